"""The maps of crews' days as inline SVG: the stops in order, the streets with their names, north and a scale.

One unit is a millimetre of paper. Shapes and numbers carry the meaning, never a colour alone.
"""

import math
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
import shapely
from markupsafe import Markup, escape

from pipeline.publish.looks import HALO, INK
from pipeline.publish.plan.labels import Label, NamedMap, place_names
from pipeline.publish.plan.markers import Marker, place_markers
from pipeline.publish.plan.sheet_units import in_us_unit
from pipeline.publish.plan.streets import Floats, Frame, Ints, Lines, Street, Streets, frame_of, on_papers, single_lines
from pipeline.publish.plan.svg_paths import svg_paths
from pipeline.publish.words import Words, plain_text, title_text

__all__ = ["DayMap", "draw_street_maps", "stop_mark"]

_STREET: Final = "#9a968d"
_MARK_MM: Final = 6.6
_NAME_MM: Final = 3.9
# what simplifying a way may move, and the shortest piece of it that is drawn
_WAY_TOLERANCE_MM: Final = 0.3
_DASH_MM: Final = 1.0
# a scale bar is at most this share of the width
_BAR: Final = 0.28
_STEPS: Final = (1, 2, 5)
_LONGEST_NAME: Final = 34
_FONT: Final = 'font-family="Liberation Sans, Arial, sans-serif"'


class DayMap(NamedTuple):
    """What the map of a day shows.

    ``points``: N stops in their order, in the run's CRS (metres). ``ways``: N + 1 lines in metres that the crew
    travels: to the first stop, from each to the next, and back. ``tasks``: of each stop, what is to be done: a circle
    is a core that goes back, a square a survey, a triangle a hazard. ``names``: the street of each (empty for none),
    which is drawn strong and always named. ``size``: width and height in millimetres. ``title``: what the map shows,
    for those who cannot see it.
    """

    points: Floats
    ways: Sequence[Floats]
    tasks: Sequence[str]
    names: Sequence[str]
    size: tuple[float, float]
    title: str


def draw_street_maps(streets: Streets, days: Sequence[DayMap], words: Words, units: str) -> list[Markup]:
    """Return the map of each day; some dozens of days at once take less time per map than one.

    Parameters
    ----------
    streets
        The road segments.
    days
        The days.
    words, units
        The language; "us" for scales in feet.
    """
    frames = [frame_of(day.points, *day.size) for day in days]
    # a stop on no named street is on one of many without a name
    shown = streets.within(frames, [set(day.names) - {""} for day in days])
    marks = [
        place_markers(frame.on_paper(day.points), _MARK_MM, *day.size) for frame, day in zip(frames, days, strict=True)
    ]
    named = [
        NamedMap(_as_drawn(mine), [*placed, *_kept(*day.size)], *day.size)
        for day, mine, placed in zip(days, shown, marks, strict=True)
    ]
    labels = place_names(named, _NAME_MM, _MARK_MM)
    return [
        _map(day, frame, roads + ways, names, placed, words, units)
        for day, frame, roads, ways, names, placed in zip(
            days, frames, _roads(shown), _ways(frames, days), labels, marks, strict=True
        )
    ]


def _as_drawn(streets: Sequence[Street]) -> list[Street]:
    """Return the streets with their names as long as they are drawn: a longer one would find no room."""
    return [street._replace(name=title_text(street.name, _LONGEST_NAME)) for street in streets]


def _kept(wide: float, high: float) -> list[Marker]:
    """Return the corners of the scale bar and the arrow, which they keep."""
    return [
        Marker(wide - 4, 5, 0, 0),
        *(Marker(x, high - 3.5, 0, 0) for x in np.arange(3, wide * _BAR + 8, 5).tolist()),
    ]


def _map(
    day: DayMap, frame: Frame, lines: str, labels: list[Label], markers: list[Marker], words: Words, units: str
) -> Markup:
    wide, high = day.size
    parts = [
        lines,
        *map(_name, labels),
        *(_leader(marker) for marker in markers if marker.is_apart),
        *(
            f'<g transform="translate({marker.x:.1f} {marker.y:.1f})">{_mark(number, task)}</g>'
            for number, (marker, task) in enumerate(zip(markers, day.tasks, strict=True), 1)
        ),
        _north(wide, words),
        _scale(frame.m_per_mm, wide, high, words, units),
    ]
    sizes = f'width="{wide:g}mm" height="{high:g}mm" viewBox="0 0 {wide:g} {high:g}"'
    head = f'<svg class="streets" {sizes} role="img" aria-label="{escape(day.title)}" {_FONT}>'
    return Markup(head + "".join(parts) + "</svg>")  # noqa: S704 - every text is escaped


@lru_cache(maxsize=1024)
def stop_mark(number: int, task: str) -> Markup:
    """Return the number of a stop as on the map, to be shown beside its name."""
    half = _MARK_MM * 0.7
    box = f'viewBox="{-half:.2f} {-half:.2f} {2 * half:.2f} {2 * half:.2f}"'
    return Markup(f'<svg class="number" {box} role="img" aria-label="{number}" {_FONT}>{_mark(number, task)}</svg>')  # noqa: S704 - numbers


def _roads(maps: Sequence[Sequence[Street]]) -> list[str]:
    """Return the streets of each map, those with stops over the others."""
    lines = np.array([street.lines for mine in maps for street in mine], object)
    parts, street_of = single_lines(lines)
    paths = _by_owner(svg_paths(parts), street_of, len(lines))
    drawn, first = [], 0
    for mine in maps:
        own = list(zip(mine, paths[first : first + len(mine)], strict=True))
        first += len(mine)
        weak, strong = ("".join(path for street, path in own if street.has_stop is strong) for strong in (False, True))
        drawn.append(_road(weak, 0.7) + _road(strong, 1.9))
    return drawn


def _road(paths: str, wide: float) -> str:
    return f'<path fill="none" stroke="{_STREET}" stroke-width="{wide}" stroke-linejoin="round" d="{paths}"/>'


def _by_owner(texts: list[str], owner: Ints, owners: int) -> list[str]:
    """Return the texts of each owner, whose numbers rise, as one."""
    ends = np.searchsorted(owner, np.arange(owners + 1)).tolist()
    return ["".join(texts[begin:end]) for begin, end in pairwise(ends)]


def _ways(frames: Sequence[Frame], days: Sequence[DayMap]) -> list[str]:
    """Return what each map shows of the ways to stops and back: broken lines, with heads that point on."""
    ways = [(number, way) for number, day in enumerate(days) for way in day.ways if len(way) > 1]
    if not ways:
        return [""] * len(days)
    day_of = np.array([number for number, _ in ways])
    way_of = np.repeat(np.arange(len(ways)), [len(way) for _, way in ways])
    placed = on_papers(frames, day_of[way_of], np.concatenate([way for _, way in ways]))
    lines = shapely.simplify(shapely.linestrings(placed, indices=way_of), _WAY_TOLERANCE_MM)
    sizes = [days[number].size for number in day_of.tolist()]
    for wide, high in set(sizes):
        of_size = np.array([size == (wide, high) for size in sizes])
        lines[of_size] = shapely.clip_by_rect(lines[of_size], 0, 0, wide, high)
    parts, owner = shapely.get_parts(lines, return_index=True)
    kept = shapely.length(parts) > _DASH_MM
    parts, owner = parts[kept], owner[kept]
    paths, heads = _by_owner(svg_paths(parts), owner, len(ways)), _heads(parts, owner)
    drawn = [
        f'<path fill="none" stroke="{INK}" stroke-width=".6" stroke-dasharray="1.6 1.2" d="{path}"/>'
        f"{heads.get(number, '')}"
        if path
        else ""
        for number, path in enumerate(paths)
    ]
    return _by_owner(drawn, day_of, len(days))


def _heads(parts: Lines, owner: Ints) -> dict[int, str]:
    """Return the head at the middle of the longest part of each owner, where that is long enough for one."""
    lengths = shapely.length(parts)
    rounded = np.array([round(length, 3) for length in lengths.tolist()])
    order = np.lexsort((-rounded, owner))
    longest = order[np.diff(owner[order], prepend=-1) > 0]
    longest = longest[lengths[longest] >= _MARK_MM * 1.6]
    middle = lengths[longest] / 2
    before, at, behind = (
        shapely.get_coordinates(shapely.line_interpolate_point(parts[longest], middle + step)).tolist()
        for step in (-1, 0, 1)
    )
    heads = {}
    for number, (ax, ay), (x, y), (bx, by) in zip(owner[longest].tolist(), before, at, behind, strict=True):
        turn = math.degrees(math.atan2(by - ay, bx - ax))
        heads[number] = (
            f'<path fill="{INK}" stroke="{HALO}" stroke-width=".3" '
            f'transform="translate({x:.1f} {y:.1f}) rotate({turn:.0f})" d="M-1.9-1.7L2 0L-1.9 1.7Z"/>'
        )
    return heads


def _name(label: Label) -> str:
    text = escape(plain_text(label.text, _LONGEST_NAME))
    turned = "" if abs(label.angle) < 0.5 else f' transform="rotate({label.angle:.0f} {label.x:.1f} {label.y:.1f})"'
    weight = ' font-weight="bold"' if label.has_stop else ""
    return _text(text, f'x="{label.x:.1f}" y="{label.y + _NAME_MM * 0.36:.1f}"{turned}{weight}')


def _text(text: Markup, where: str, anchor: str = "middle") -> str:
    """Return a text over its halo, which is the same text with an outline: not every program paints outlines first."""
    both = f'font-size="{_NAME_MM}" text-anchor="{anchor}" {where}'
    return f'<text stroke="{HALO}" stroke-width="1.1" {both}>{text}</text><text fill="{INK}" {both}>{text}</text>'


def _leader(marker: Marker) -> str:
    line = f"M{marker.at_x:.1f} {marker.at_y:.1f}L{marker.x:.1f} {marker.y:.1f}"
    dot = f'<circle cx="{marker.at_x:.1f}" cy="{marker.at_y:.1f}" r="1" fill="{INK}"/>'
    return f'<path stroke="{INK}" stroke-width=".4" d="{line}"/>{dot}'


def _mark(number: int, task: str) -> str:
    half = _MARK_MM / 2
    shapes = {
        "survey": f'<rect x="{-half}" y="{-half}" width="{_MARK_MM}" height="{_MARK_MM}"/>',
        "make safe": f'<path d="M0 {-half * 1.35:.1f}L{half * 1.3:.1f} {half:.1f}H{-half * 1.3:.1f}Z"/>',
    }
    shape = shapes.get(task, f'<circle r="{half}"/>')
    return (
        f'<g fill="{HALO}" stroke="{INK}" stroke-width=".7">{shape}</g>'
        f'<text y="1.6" font-size="4.4" font-weight="bold" text-anchor="middle" fill="{INK}">{number}</text>'
    )


def _north(wide: float, words: Words) -> str:
    arrow = f'<path d="M0-4L2 3L0 1.6L-2 3Z" fill="{INK}" stroke="{HALO}" stroke-width=".4"/>'
    letter = _text(escape(words.plainly("sheet.north")), 'y="7"')
    return f'<g transform="translate({wide - 4:g} 5)">{arrow}{letter}</g>'


def _scale(m_per_mm: float, wide: float, high: float, words: Words, units: str) -> str:
    unit = "ft" if units == "us" else "m"
    per_mm = in_us_unit(m_per_mm, "m", "ft") if units == "us" else m_per_mm
    most = per_mm * wide * _BAR
    power = 10 ** math.floor(math.log10(most))
    length = max(step * power for step in _STEPS if step * power <= most)
    bar = length / per_mm
    line = f'fill="none" d="M2 {high - 4:g}v2h{bar:.1f}v-2"'
    label = _text(
        escape(words.plainly(f"unit.{unit}", v=words.measure(length))),
        f'x="{bar + 3.5:.1f}" y="{high - 1.6:g}"',
        "start",
    )
    return f'<path stroke="{HALO}" stroke-width="2" {line}/><path stroke="{INK}" stroke-width=".6" {line}/>{label}'
