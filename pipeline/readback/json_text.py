"""JSON that others may have written, read so that each text of it can be written again."""

import json
import re
from typing import Any, Final

__all__ = ["parse_json"]

# of half a character, as JSON may write it: most are beside their other half
_HALF: Final = re.compile(r"\\u[dD][89a-fA-F]")


def parse_json(text: str) -> Any:  # noqa: ANN401 - whatever the text holds
    r"""Return what a text in JSON holds.

    Raises
    ------
    ValueError
        It is not JSON, or has half of a character (such as ``\ud800``), which no file and no page takes.
    RecursionError
        It is nested too deep.
    """
    found = json.loads(text)
    if _HALF.search(text):
        try:
            json.dumps(found, ensure_ascii=False).encode("utf-8")
        except UnicodeEncodeError as error:
            half = ord(error.object[error.start])
            raise ValueError(f"a text has half of a character, \\u{half:04x}, expected whole characters") from None
    return found
