"""What is on the sheets of crews: a crew's day in the roomiest layout that takes the fewest sheets of paper."""

import datetime as dt
import math
from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from pipeline.publish.plan.sheet_layout import LAYOUTS, MAP_WIDE, WIDE, Layout, rows_of, text_width
from pipeline.publish.plan.stop_lines import StopLines, joined
from pipeline.publish.plan.street_map import stop_mark

__all__ = ["Page", "SheetStop", "SheetTop", "cut_of", "pages_of", "stop_of"]

# in millimetres: the head of a sheet with its rule, the frame of a stop, and what is left free below the top's parts
_HEAD: Final = 9.0
_FRAME: Final = 1.2
_GAP: Final = 1.0
# the load beside the map, inside its frame, and that frame's height
_LOAD_WIDE: Final = WIDE - MAP_WIDE - 6.0
_LOAD_FRAME: Final = 2.5
# as wide as the word that is before the bags
_LOAD: Final = "<b>mmmm</b>"
# between text and QR code
_BESIDE: Final = 1.5
# frames and gaps of a stop's first line: around its mark, its id and its shade
_MARK: Final = 1.2
_SHADE: Final = 5.0
_SHADE_LETTER: Final = 5.65
# letters of a crew's name, and the room beside the day for it in large letters
_CREW_LETTER: Final = 6.0
_CREW_WIDE: Final = 80.0


class SheetStop(NamedTuple):
    """A stop as it is printed.

    ``frame``: its shade, or its task where nothing is mixed. ``about``: what to do. ``lines``: the lines below.
    ``flagged``: what was flagged, with so many findings named.
    """

    number: int
    task: str
    mark: Markup
    name: Markup
    shade: str
    frame: Markup
    about: Markup
    lines: tuple[Markup, ...]
    flagged: tuple[Markup, ...]
    boxes: tuple[Markup, ...]
    code: Markup

    def high(self, layout: Layout) -> float:
        """Return about how high it is, in millimetres."""
        wide = WIDE - layout.code - _BESIDE
        begins = (
            layout.title
            + _MARK
            + text_width(f"<b>{self.name}</b>", layout.id_pt / layout.letter_pt * layout.letter)
            + _SHADE
        )
        begins += text_width(f"<b>{self.frame}</b>", _SHADE_LETTER)
        last = f"{self.lines[-1]} {self.flagged[layout.found]}"
        below = sum(rows_of(text, wide, layout.letter) for text in (*self.lines[:-1], last))
        return self._high(layout, rows_of(self.about, wide, layout.letter, begins), below)

    def least_high(self, layout: Layout) -> float:
        """Return how high it is at least, whatever its texts are."""
        return self._high(layout, 1, len(self.lines))

    def _high(self, layout: Layout, first: int, below: int) -> float:
        beside = layout.code + (layout.line if self.shade else 0.0)
        return _FRAME + max(first * layout.title + below * layout.line + layout.boxes, beside)


class SheetTop(NamedTuple):
    """The top of a day: what to load by shade (shade, name, bags), what else and when, and its cautions."""

    load: tuple[tuple[str, Markup, Markup], ...]
    lines: tuple[Markup, ...]
    cautions: tuple[Markup, ...]

    def high(self, layout: Layout) -> float:
        """Return about how high it is, in millimetres."""
        shades = sum(text_width(f"<b>{name} {bags}</b>", _SHADE_LETTER) + _SHADE for _, name, bags in self.load)
        # "Load" is before the first
        load = math.ceil((shades + text_width(_LOAD, layout.letter)) / _LOAD_WIDE) * layout.title if self.load else 0.0
        load += sum(rows_of(line, _LOAD_WIDE, layout.letter) for line in self.lines) * layout.line
        cautions = sum(rows_of(text, WIDE, layout.letter) for text in self.cautions) * layout.line
        return max(layout.map_high, load + _LOAD_FRAME) + _GAP + cautions + _GAP


class Page(NamedTuple):
    """One sheet of paper: page ``number`` of the ``of`` pages of a crew's day. Only the first has the ``top``.

    ``is_long``: whether the crew's name needs smaller letters.
    """

    crew: Markup
    day: dt.date
    number: int
    of: int
    is_long: bool
    layout: Layout
    top: SheetTop | None
    map: Markup
    stops: tuple[SheetStop, ...]


def stop_of(
    stop: Mapping[str, Any], sharing: list[Mapping[str, Any]], cautions: list[str], lines: StopLines,
    names: Mapping[str, Markup], code: Markup,
) -> SheetStop:  # fmt: skip
    """Return a stop.

    Parameters
    ----------
    stop
        A row of the plan's table, with ``permit_no`` and ``permit_expires_on``.
    sharing
        All stops of its mix, in order.
    cautions
        Its own, without those that the sheet has at its top.
    lines
        Puts it into words.
    names
        Of tasks and shades.
    code
        Its position as a QR code.
    """
    task = str(stop["task"])
    shade = str(stop["shade"]) if task == "reinstate" else ""
    notes = joined(" ", [lines.times(stop), *lines.notes(stop), *cautions])
    return SheetStop(
        int(stop["stop"]), task, stop_mark(int(stop["stop"]), task), lines.name(stop), shade,
        names[shade or task], lines.mix(stop, sharing) if shade else lines.task(task), (lines.what(stop), notes),
        tuple(lines.flagged(stop, most) for most in range(max(layout.found for layout in LAYOUTS) + 1)),
        tuple(lines.boxes(task)), code,
    )  # fmt: skip


def cut_of(top: SheetTop, stops: list[SheetStop], high: float) -> tuple[Layout, list[list[SheetStop]]]:
    """Return the roomiest layout with the fewest pages, and the stops of each page; a stop is never cut in two.

    ``high``: what a page has room for, in millimetres.
    """
    page = high - _HEAD
    best: tuple[Layout, list[list[SheetStop]]] | None = None
    for layout in LAYOUTS:
        left = page - top.high(layout)
        # texts take long to measure: not where even the shortest would need as many pages
        if best and len(_cut(stops, [stop.least_high(layout) for stop in stops], layout, left, page)) >= len(best[1]):
            continue
        cut = _cut(stops, [stop.high(layout) for stop in stops], layout, left, page)
        if best is None or len(cut) < len(best[1]):
            best = layout, cut
        # no layout takes less than one page
        if len(cut) == 1:
            break
    return best or (LAYOUTS[0], [[]])


def _cut(stops: list[SheetStop], highs: list[float], layout: Layout, left: float, page: float) -> list[list[SheetStop]]:
    """Return the stops of each page; ``left``: what the first page has room for below its top."""
    cut: list[list[SheetStop]] = [[]]
    # a day of several pages says at the foot of each that it goes on
    foot = 0.0 if sum(highs) <= left else layout.line
    left -= foot
    for stop, high in zip(stops, highs, strict=True):
        if high > left and (cut[-1] or len(cut) == 1):
            cut.append([])
            left = page - foot
        cut[-1].append(stop)
        left -= high
    return cut


def pages_of(
    crew: Markup, day: dt.date, top: SheetTop, drawn: Markup, layout: Layout, cut: list[list[SheetStop]]
) -> list[Page]:
    """Return the pages of a crew's day; ``drawn``: its map."""
    is_long = text_width(f"<b>{crew}</b>", _CREW_LETTER) > _CREW_WIDE
    return [
        Page(crew, day, number, len(cut), is_long, layout, top if number == 1 else None, drawn, tuple(mine))
        for number, mine in enumerate(cut, start=1)
    ]
