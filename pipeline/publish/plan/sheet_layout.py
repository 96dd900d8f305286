"""How large everything on a crew's sheet is, from roomy to tight, and about how much paper a text takes.

The sizes are those of the style sheet of the page; lengths are in millimetres.
"""

import re
from functools import lru_cache
from typing import Final, NamedTuple

from pipeline.publish.plan.labels import label_width
from pipeline.publish.report.pdf import Paper

__all__ = ["HIGHS", "LAYOUTS", "MAP_WIDE", "WIDE", "Layout", "rows_of", "text_width"]

# what both papers have room for inside their margins is the width of A4; the heights of each
WIDE: Final = 196.0
HIGHS: Final[dict[Paper, float]] = {"A4": 282.0, "Letter": 264.5}
MAP_WIDE: Final = 112.0
_MM_PER_POINT: Final = 25.4 / 72
# how much wider text is than its letters, with a little to spare
_PLAIN: Final = 1.0
_BOLD: Final = 1.06
_STRONG: Final = re.compile("<b>(.*?)</b>")
_MARKUP: Final = re.compile("<[^>]*>")


class Layout(NamedTuple):
    """The sizes of a sheet: letters, a line of text, a stop's first line and its boxes, QR code, height of the map.

    ``found``: findings that are named at a stop; the others are counted.
    """

    name: str
    letter_pt: float
    id_pt: float
    line: float
    title: float
    boxes: float
    code: float
    map_high: float
    found: int

    @property
    def letter(self) -> float:
        """The height of the letters."""
        return self.letter_pt * _MM_PER_POINT


# the shade is in letters of 16 points in all of them
_TIGHT: Final = Layout("tight", 10.5, 14, 3.9, 6.0, 8.0, 17.5, 46, 2)
LAYOUTS: Final = (
    Layout("roomy", 13, 18, 5.4, 8.2, 13, 28, 72, 3),
    Layout("usual", 11.5, 16, 4.7, 7.4, 10.4, 22, 55, 2),
    _TIGHT,
    _TIGHT._replace(map_high=38, found=1),
    _TIGHT._replace(map_high=32, found=1),
    _TIGHT._replace(map_high=32, found=0),
)


def text_width(text: str, letter: float) -> float:
    """Return about how wide a text or markup is on one line."""
    return sum(_word_widths(text)) * letter


@lru_cache(maxsize=20_000)
def rows_of(text: str, wide: float, letter: float, first: float = 0.0) -> int:
    """Return about how many lines a text or markup takes; ``first``: what stands before it on the first line."""
    rows, used = 1, first
    for width in _word_widths(text):
        length = width * letter
        if used + length > wide and used > 0:
            rows, used = rows + 1, 0.0
        # a word wider than the line is broken
        rows += int(length // wide)
        used += length % wide
    return rows


@lru_cache(maxsize=20_000)
def _word_widths(text: str) -> tuple[float, ...]:
    """Return how wide each word is in letters of the height 1: bold ones are wider."""
    # what is bold stands at the odd places
    return tuple(
        _word_width(f"{word} ") * (_BOLD if at % 2 else _PLAIN)
        for at, part in enumerate(_STRONG.split(str(text)))
        for word in _MARKUP.sub("", part).split(" ")
        if word
    )


@lru_cache(maxsize=20_000)
def _word_width(word: str) -> float:
    return label_width(word, 1.0)
