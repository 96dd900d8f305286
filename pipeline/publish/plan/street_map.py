"""The map of a crew's day as inline SVG: its stops in order, the streets with their names, north and a scale.

One unit is a millimetre of paper. Shapes and numbers carry the meaning, never a colour alone.
"""

import math
from typing import Final

import numpy as np
import shapely
from markupsafe import Markup, escape

from pipeline.publish.looks import HALO, INK
from pipeline.publish.plan.labels import Label, Marker, place_markers, place_names
from pipeline.publish.plan.sheet_units import in_us_unit
from pipeline.publish.plan.streets import Floats, Street, Streets, frame_of
from pipeline.publish.words import Words, plain_text

__all__ = ["draw_street_map", "stop_mark"]

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


def draw_street_map(
    streets: Streets, points: Floats, ways: list[Floats], tasks: list[str], names: list[str],
    size: tuple[float, float], words: Words, title: str, units: str,
) -> Markup:  # fmt: skip
    """Return the map of a day.

    Parameters
    ----------
    streets
        The road segments.
    points
        N stops in their order, in the run's CRS (metres).
    ways
        N + 1 lines in metres that the crew travels: to the first stop, from each to the next, and back.
    tasks
        Of each stop, what is to be done: a circle is a core that goes back, a square a survey, a triangle a hazard.
    names
        The street of each, which is drawn strong and always named.
    size
        Width and height in millimetres.
    words, title, units
        The language; what the map shows, for those who cannot see it; "us" for a scale in feet.
    """
    wide, high = size
    frame = frame_of(points, wide, high)
    drawn = streets.within(frame, set(names))
    at = frame.on_paper(points)
    markers = place_markers(at, _MARK_MM, wide, high)
    # the scale bar and the arrow keep their corners
    kept = [Marker(wide - 4, 5, 0, 0), *(Marker(x, high - 3.5, 0, 0) for x in np.arange(3, wide * _BAR + 8, 5))]
    labels = place_names(drawn, [*markers, *kept], _NAME_MM, _MARK_MM, wide, high)
    parts = [
        _roads([street for street in drawn if not street.has_stop], 0.7),
        _roads([street for street in drawn if street.has_stop], 1.9),
        *(_way(frame.on_paper(way), wide, high) for way in ways),
        *(_name(label) for label in labels),
        *(_leader(marker) for marker in markers if marker.is_apart),
        *(
            f'<g transform="translate({marker.x:.1f} {marker.y:.1f})">{_mark(number, task)}</g>'
            for number, (marker, task) in enumerate(zip(markers, tasks, strict=True), 1)
        ),
        _north(wide, words),
        _scale(frame.m_per_mm, wide, high, words, units),
    ]
    sizes = f'width="{wide:g}mm" height="{high:g}mm" viewBox="0 0 {wide:g} {high:g}"'
    head = f'<svg class="streets" {sizes} role="img" aria-label="{escape(title)}" {_FONT}>'
    return Markup(head + "".join(parts) + "</svg>")  # noqa: S704 - every text is escaped


def stop_mark(number: int, task: str) -> Markup:
    """Return the number of a stop as on the map, to be shown beside its name."""
    half = _MARK_MM * 0.7
    box = f'viewBox="{-half:.2f} {-half:.2f} {2 * half:.2f} {2 * half:.2f}"'
    return Markup(f'<svg class="number" {box} role="img" aria-label="{number}" {_FONT}>{_mark(number, task)}</svg>')  # noqa: S704 - numbers


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0").replace("-0.", "-.").removeprefix("0") or "0"


def _path(points: Floats) -> str:
    """Return a path through N points, each relative to the one before it: the shortest that SVG has."""
    whole = np.round(points, 1)
    steps = np.diff(whole, axis=0)
    steps = steps[np.abs(steps).sum(axis=1) > 0]
    start = f"M{_number(whole[0][0])} {_number(whole[0][1])}"
    return start + "".join(f"l{_number(round(x, 1))} {_number(round(y, 1))}" for x, y in steps)


def _roads(streets: list[Street], wide: float) -> str:
    paths = "".join(
        _path(shapely.get_coordinates(line)) for street in streets for line in shapely.get_parts(street.lines)
    )
    return f'<path fill="none" stroke="{_STREET}" stroke-width="{wide}" stroke-linejoin="round" d="{paths}"/>'


def _way(points: Floats, wide: float, high: float) -> str:
    """Return what the map shows of the way to a stop or back: a broken line, with a head that points on."""
    if len(points) < 2:
        return ""
    line = shapely.simplify(shapely.LineString(points), _WAY_TOLERANCE_MM)
    parts = [part for part in shapely.get_parts(shapely.clip_by_rect(line, 0, 0, wide, high)) if part.length > _DASH_MM]
    paths = "".join(_path(shapely.get_coordinates(part)) for part in parts)
    if not paths:
        return ""
    drawn = f'<path fill="none" stroke="{INK}" stroke-width=".6" stroke-dasharray="1.6 1.2" d="{paths}"/>'
    longest = max(parts, key=lambda part: round(part.length, 3))
    if longest.length < _MARK_MM * 1.6:
        return drawn
    middle = longest.length / 2
    (ax, ay), (x, y), (bx, by) = (longest.interpolate(middle + step).coords[0] for step in (-1, 0, 1))
    turn = math.degrees(math.atan2(by - ay, bx - ax))
    return (
        f'{drawn}<path fill="{INK}" stroke="{HALO}" stroke-width=".3" '
        f'transform="translate({x:.1f} {y:.1f}) rotate({turn:.0f})" d="M-1.9-1.7L2 0L-1.9 1.7Z"/>'
    )


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
