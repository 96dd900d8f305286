"""What is on the sheets of crews: the pages of each crew's day, cut so that each fits a sheet of A4 or Letter paper."""

import datetime as dt
import math
import re
from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from pipeline.publish.plan.labels import label_width
from pipeline.publish.plan.stop_lines import StopLines
from pipeline.publish.plan.street_map import stop_mark

__all__ = ["FIRST_MAP_MM", "Page", "SheetStop", "pages_of", "stop_of"]

# in millimetres: what the smaller of the two papers has room for inside its margins; widths are those of the narrower
_HIGH: Final = 261.0
_WIDE: Final = 192.0
_CODE: Final = 25.0
# letters of 11 points and the line they stand in
_LETTER: Final = 3.88
_LINE: Final = 4.9
# how much wider bold letters are
_BOLD: Final = 1.08
_HEAD: Final = 10.5
FIRST_MAP_MM: Final = (116.0, 56.0)
# a stop: its frame, title and boxes
_GAP: Final = 2.0
_FRAME: Final = 3.4
_TITLE: Final = 8.2
_BOXES: Final = 12.2
# as much text as the head of the ticks and each tick take
_NOTE: Final = "a" * 110
_GROUT: Final = "a" * 6
_TICKS_HEAD: Final = "a" * 15
_TICK: Final = "a" * 4
# letters of a stop's title and of a crew's name, and the room beside the day for the latter in large letters
_TITLE_LETTER: Final = 5.65
_CREW_LETTER: Final = 6.3
_CREW_WIDE: Final = 80.0
# a stop's mark, and the frame of its shade
_MARK: Final = 22.0
_MARKUP: Final = re.compile("<[^>]*>")


class SheetStop(NamedTuple):
    """A stop as it is printed; ``high``: about how high it is, in millimetres."""

    number: int
    task: str
    task_name: Markup
    mark: Markup
    name: Markup
    where: Markup
    shade: str
    shade_name: Markup
    lines: tuple[Markup, ...]
    ticks: tuple[str, ...]
    boxes: tuple[Markup, ...]
    code: Markup
    high: float


class Page(NamedTuple):
    """One sheet of paper: page ``number`` of the ``of`` pages of a crew's day. Only the first has the ``top``.

    ``is_long``: whether the crew's name needs smaller letters.
    """

    crew: Markup
    day: dt.date
    number: int
    of: int
    is_long: bool
    top: Mapping[str, Any] | None
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
    is_mixed = task == "reinstate"
    shade = str(stop["shade"]) if is_mixed else ""
    texts = [lines.where(stop), lines.what(stop), *([lines.mix(stop, sharing)] if is_mixed else []), lines.times(stop)]
    texts += [*lines.notes(stop), *([Markup("{}").format(" ".join(cautions))] if cautions else [])]
    ticks = lines.ticks(task)
    beside = _WIDE - _CODE - 2 * _GAP
    wide = label_width(_plain(lines.name(stop)) + _plain(names.get(shade, names[task])), _TITLE_LETTER) * _BOLD
    wide += label_width(_GROUT, _TITLE_LETTER) + _MARK
    high = _TITLE * math.ceil(wide / beside)
    # a stop without a mix has a line on that
    high += 0.0 if is_mixed else _LINE
    for text in texts:
        # the code is at the right of the first lines
        high += _rows(text, beside if high < _CODE else _WIDE - _GAP) * _LINE
    high = max(high, _CODE) + _FRAME + _BOXES
    if ticks:
        high += _rows(_TICKS_HEAD + _TICK.join(ticks), _WIDE - _GAP) * _LINE
    return SheetStop(
        int(stop["stop"]), task, names[task], stop_mark(int(stop["stop"]), task), lines.name(stop), lines.where(stop),
        shade, names.get(shade, Markup()),        tuple(texts[1:]), tuple(ticks), tuple(lines.boxes(task)), code, high,
    )  # fmt: skip


def pages_of(crew: Markup, day: dt.date, top: Mapping[str, Any], stops: list[SheetStop]) -> list[Page]:
    """Return the pages of a crew's day; a stop is never cut in two."""
    texts = (" · ".join([*top["cautions"], _NOTE]), " ".join(top["own_cautions"]))
    left = _HIGH - _HEAD - FIRST_MAP_MM[1] - _GAP - sum(_rows(text, _WIDE) for text in texts if text) * _LINE - _GAP
    cut: list[list[SheetStop]] = [[]]
    for stop in stops:
        if stop.high > left and (cut[-1] or len(cut) == 1):
            cut.append([])
            left = _HIGH - _HEAD - _LINE
        cut[-1].append(stop)
        left -= stop.high
    return [
        Page(
            crew,
            day,
            number,
            len(cut),
            label_width(_plain(crew), _CREW_LETTER) > _CREW_WIDE,
            top if number == 1 else None,
            tuple(mine),
        )
        for number, mine in enumerate(cut, start=1)
    ]


def _plain(text: str) -> str:
    return _MARKUP.sub("", str(text))


def _rows(text: str, wide: float) -> int:
    """Return about how many lines a text takes."""
    return max(1, math.ceil(label_width(_plain(text), _LETTER) * 1.03 / max(wide, 30.0)))
