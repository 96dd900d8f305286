"""What the map says: every sentence from one catalogue file a language, ``config/words/<language>.toml``."""

import tomllib
from typing import Any

from pipeline.errors import SettingsError
from pipeline.resources import shipped

__all__ = ["load_words"]


def load_words(language: str = "en") -> dict[str, Any]:
    """Return the sentences by key, ``"table.key"``: a text, or a table of texts by plural class.

    Raises
    ------
    SettingsError
        There is no catalogue of that language.
    """
    path = shipped("config") / "words" / f"{language}.toml"
    try:
        written = tomllib.loads(path.read_text("utf-8"))
    except OSError as error:
        known = ", ".join(sorted(file.stem for file in path.parent.glob("*.toml")))
        raise SettingsError(f"map: no words for the language {language!r}. There are words for: {known}.") from error
    flat: dict[str, Any] = {}
    for table, sentences in written.items():
        if isinstance(sentences, dict):
            flat |= {f"{table}.{key}": sentence for key, sentence in sentences.items()}
        else:
            flat[table] = sentences
    return flat
