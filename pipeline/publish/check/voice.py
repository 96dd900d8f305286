"""The same sentences for a page, as markup, and for a terminal, as plain text."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from pipeline.publish.words import Words, title_text

__all__ = ["Voice", "for_page", "for_text"]

_LONGEST_TEXT: Final = 60
_LONGEST_OWN: Final = 120
_LONGEST_SENTENCE: Final = 2000


@dataclass(frozen=True)
class Voice:
    """How sentences are formatted.

    ``say``: a sentence with its values filled in. ``own``: text from a register, layer or setting, shortened;
    ``own_long``: a sentence that may hold such text. ``joined``: parts with a text between them.
    """

    words: Words
    say: Callable[..., str]
    own: Callable[[object], str]
    own_long: Callable[[object], str]
    joined: Callable[[str, Iterable[str]], str]

    def listed(self, parts: Iterable[str]) -> str:
        """Return parts with commas between them."""
        return self.joined(", ", parts)


def for_page(words: Words) -> Voice:
    """Return the format for a page: everything is escaped."""

    def joined(between: str, parts: Iterable[str]) -> str:
        return Markup.escape(between).join(parts)

    return Voice(
        words,
        words.say,
        lambda text: words.own(text, _LONGEST_OWN),
        lambda text: words.own(text, _LONGEST_SENTENCE),
        joined,
    )


def for_text(words: Words) -> Voice:
    """Return the format for a terminal: on one line, without control characters."""
    return Voice(
        words,
        words.plainly,
        lambda text: title_text(text, _LONGEST_TEXT),
        lambda text: title_text(text, _LONGEST_SENTENCE),
        lambda between, parts: between.join(parts),
    )
