"""Reliability as small charts: what was stated across, what held up, before in grey squares and after in dots."""

import math
from collections.abc import Iterable
from itertools import pairwise
from typing import Final, NamedTuple

from markupsafe import Markup

from pipeline.publish.looks import COLOURS, HALO, INK
from pipeline.publish.pages.svg import line, named_chart, text
from pipeline.publish.words import Words

__all__ = ["Point", "lowest_of", "reliability_chart", "reliability_mark"]

_HIGH: Final = 130
_TOP: Final = 22
# in percent of the width; the numbers of the axis are in the margin on the left
_LEFT: Final = 24.0
_RIGHT: Final = 96.0
# radius of the mark of the fewest and of the most cores, in pixels
_SMALL: Final = 3.2
_LARGE: Final = 6.0
_AFTER: Final = COLOURS["accent"]
_BEFORE: Final = COLOURS["muted"]
_THIN: Final = ' stroke-opacity="0.5"'
_DASHES: Final = ' stroke-dasharray="3 3"'
# the axes begin at a tenth that no point lies below, and at this at the latest
_LATEST_START: Final = 0.5


class Point(NamedTuple):
    """Some cores of which a share was stated: "before" or "after", the mean of what was stated, and what held."""

    when: str
    stated: float
    agreed: float
    cores: int


def lowest_of(points: Iterable[Point]) -> float:
    """Return where the axes of charts that are to be compared begin: a tenth that no point lies below."""
    least = min((min(point.stated, point.agreed) for point in points), default=_LATEST_START)
    return min(math.floor(least * 10 + 1e-9) / 10, _LATEST_START)


def reliability_chart(points: list[Point], lowest: float, most: int, name: str, title: str, words: Words) -> Markup:
    """Return one chart with a line from corner to corner, on which whatever is stated holds.

    Parameters
    ----------
    points
        Of one batch.
    lowest
        The share at the beginning of both axes.
    most
        Cores of the largest mark, over all charts that are to be compared.
    name
        Id of the chart on the page.
    title
        What it shows; text of a register in it through ``plain_text``.
    words
        The language.
    """
    base = _TOP + _HIGH
    parts = _axes(lowest, base, words)
    for when in ("before", "after"):
        own = sorted(point for point in points if point.when == when)
        places = [(_across(point.stated, lowest), _up(point.agreed, lowest), point.cores) for point in own]
        for (x, y, _), (to_x, to_y, _) in pairwise(places):
            parts.append(line(x, y, to_x, to_y, _BEFORE if when == "before" else _AFTER, _THIN))
        parts += [_placed(x, y, _mark(when, _radius(cores, most))) for x, y, cores in places]
    described = [
        words.plainly(
            f"learnt.point_{point.when}",
            stated=words.percent(point.stated, 1),
            agreed=words.percent(point.agreed, 1),
            n=point.cores,
        )
        for point in sorted(points, key=lambda point: (point.when != "before", point.stated))
    ]
    return named_chart(name, base + 42, title, "; ".join(described), parts)


def reliability_mark(when: str) -> Markup:
    """Return the mark of "before" or "after", for a legend."""
    start = '<svg class="mark" viewBox="-7 -7 14 14" width="14" height="14" aria-hidden="true">'
    return Markup(f"{start}{_mark(when, 4.5)}</svg>")  # noqa: S704 - constants


def _axes(lowest: float, base: float, words: Words) -> list[str]:
    middle = (1 + lowest) / 2
    parts = []
    for share in (lowest, middle, 1.0):
        x, y = _across(share, lowest), _up(share, lowest)
        ink = INK if share == lowest else COLOURS["chart-rule"]
        parts += [line(_LEFT, y, _RIGHT, y, ink), line(x, _TOP, x, base, ink)]
        if share != middle:
            shown = words.percent(share)
            parts.append(text(_LEFT - 3, y + 4.5, shown, "end"))
            parts.append(text(x, base + 17, shown, "end" if share == 1 else "start"))
    parts.append(line(_LEFT, base, _RIGHT, _TOP, INK, _DASHES))
    parts.append(text((_LEFT + _RIGHT) / 2, base + 34, words.plainly("learnt.axis_stated"), "middle"))
    parts.append(text(0, _TOP - 11, words.plainly("learnt.axis_agreed"), "start"))
    return parts


def _across(share: float, lowest: float) -> float:
    return _LEFT + (_RIGHT - _LEFT) * (share - lowest) / (1 - lowest)


def _up(share: float, lowest: float) -> float:
    return _TOP + _HIGH * (1 - share) / (1 - lowest)


def _radius(cores: int, most: int) -> float:
    """Return a radius whose area grows with the cores."""
    return max(_LARGE * math.sqrt(cores / max(most, 1)), _SMALL)


def _mark(when: str, radius: float) -> str:
    if when == "before":
        side = 1.8 * radius
        return (
            f'<rect x="{-side / 2:.1f}" y="{-side / 2:.1f}" width="{side:.1f}" height="{side:.1f}" fill="{HALO}" '
            f'stroke="{_BEFORE}" stroke-width="1.5"/>'
        )
    return f'<circle r="{radius:.1f}" fill="{_AFTER}" stroke="{HALO}" stroke-width="1"/>'


def _placed(x: float, y: float, mark: str) -> str:
    return f'<svg x="{x:.2f}%" y="{y:.1f}" width="1" height="1" overflow="visible">{mark}</svg>'
