"""Characters that are seen nowhere and change what is seen: shown by their number, such as ``<U+202E>``.

Control characters move the cursor of a terminal or colour what follows; marks of direction turn text around; characters
without a width make two names look the same (Unicode Technical Report 36, 2.11; Unicode Standard Annex 9).
"""

import os
import re
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["UNSEEN_IN_ARROW", "bytes_not_utf8", "in_line", "visible", "visible_texts"]

# letters and marks of scripts that are spelt with joiners, and symbols that are joined to one: Arabic, Syriac, N'Ko,
# those of India and further east, emoji and the selectors that follow them
_JOINED: Final = (
    "\u0600-\u109f\u1780-\u18af\u1900-\u1cff\ua800-\uabff\ufb50-\ufdff\ufe70-\ufefc\ufe0f\u2190-\u27bf\u2b00-\u2bff"
    "\U00010a00-\U00010fff\U00011000-\U00011fff\U0001f000-\U0001faff"
)
_UNSEEN: Final = re.compile(
    # control characters but tabs and ends of lines: a return alone writes over its line
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]|\r(?!\n)"
    # marks of direction, and ends of lines that only some programs know
    "|[\u061c\u200e\u200f\u2028-\u202e\u2066-\u206f]"
    # without a width: spaces, fillers, hyphens and operators that are not drawn, tags, notes between lines
    "|[\xad\u034f\u115f\u1160\u17b4\u17b5\u180e\u200b\u2060-\u2065\u3164\ufeff\uffa0\ufff9-\ufffb\U000e0000-\U000e00ff]"
    f"|(?<![{_JOINED}])[\u200c\u200d]"
    # halves of characters and numbers that are none: no page, sheet or terminal takes them
    "|[\ud800-\udfff\ufffe\uffff]"
)
_END_OF_LINE: Final = re.compile("\r?\n")
# what may have to be shown, as Arrow writes patterns: joiners wherever they are, and no halves, which it does not hold
UNSEEN_IN_ARROW: Final = (
    r"[\x00-\x08\x0b-\x1f\x7f-\x9f\xad\x{34f}\x{61c}\x{115f}\x{1160}\x{17b4}\x{17b5}\x{180e}\x{200b}-\x{200f}"
    r"\x{2028}-\x{202e}\x{2060}-\x{206f}\x{3164}\x{feff}\x{ffa0}\x{fff9}-\x{fffb}\x{fffe}\x{ffff}\x{e0000}-\x{e00ff}]"
)


def visible(text: str) -> str:
    """Return a text with the characters that are seen nowhere shown by their numbers; tabs and ends of lines stay."""
    if text.isascii() and text.isprintable():
        return text
    return _UNSEEN.sub(lambda found: f"<U+{ord(found[0]):04X}>", text)


def in_line(text: str) -> str:
    """Return the same on one line, so that no text of others can pass for a further line of ours."""
    return " ".join(_END_OF_LINE.split(visible(text))) if "\n" in text else visible(text)


def bytes_not_utf8(name: str) -> str:
    """Return a name that is not in UTF-8 with its odd bytes by their numbers; nothing for any other name."""
    try:
        name.encode()
    except UnicodeEncodeError:
        return os.fsencode(name).decode("utf-8", "backslashreplace")
    return ""


def visible_texts(texts: "pd.Series") -> "pd.Series":
    """Return N texts, each as ``visible`` shows it; a missing one stays missing."""
    odd = texts.str.contains(UNSEEN_IN_ARROW, regex=True).fillna(value=False).astype(bool)
    if not odd.any():
        return texts
    shown = texts.copy()
    shown[odd] = texts[odd].map(visible).array
    return shown
