"""The words of street names that people abbreviate: a short form for each long one, or none for those left out."""

import re
import tomllib
import unicodedata

from pydantic import field_validator

from pipeline.programme.materials import Sourced
from pipeline.programme.resources import shipped

__all__ = ["StreetWords", "shipped_short_words"]


class StreetWords(Sourced):
    """The long forms of each short word; those of the empty short word are left out of names."""

    short: dict[str, list[str]]

    @field_validator("short")
    @classmethod
    def _has_single_words_once_each(cls, short: dict[str, list[str]]) -> dict[str, list[str]]:
        owner: dict[str, str] = {}
        for name, longs in short.items():
            for long in longs:
                word = _plain(long)
                if not re.fullmatch(r"\w+", word):
                    raise ValueError(f"found {long!r} under {name!r}, expected a single word")
                if owner.setdefault(word, name) != name:
                    raise ValueError(
                        f"found {long!r} under {owner[word]!r} and {name!r}, expected it under one of them"
                    )
        return short

    @property
    def by_long(self) -> dict[str, str]:
        """The short form of each long word, both as names are compared: without capitals, accents and full stops."""
        return {_plain(long): _plain(name) for name, longs in self.short.items() for long in longs}


def shipped_short_words() -> dict[str, str]:
    """Return the short form of each long word in ``config/street_words.toml``, without those of a programme."""
    written = tomllib.loads((shipped("config") / "street_words.toml").read_text("utf-8"))
    return StreetWords.model_validate(written).by_long


def _plain(word: str) -> str:
    letters = unicodedata.normalize("NFKD", word.replace("ß", "ss"))
    return re.sub(r"[\u0300-\u036f’'`.]", "", letters).casefold().strip()
