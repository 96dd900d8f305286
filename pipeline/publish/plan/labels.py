"""Where the names of streets and the numbers of stops go on a small map, so that none covers another."""

import math
import unicodedata
from collections.abc import Iterable
from typing import Final, NamedTuple

import numpy as np
import shapely

from pipeline.publish.plan.streets import Floats, Street

__all__ = ["Label", "Marker", "label_width", "place_markers", "place_names"]

# width of a letter as a share of its height, in the fonts that the page asks for (Adobe's font metrics of Helvetica,
# which Arial and Liberation Sans share, from memory); the others are about as wide as "a"
_LETTERS: Final = {
    letter: wide
    for letters, wide in {
        "ijl'|": 0.22, " ftI.,:;/!·": 0.28, 'r()[]-"': 0.35, "ckvxyszJ": 0.5, "FTZL": 0.61, "ABEKPSVXY&": 0.67,
        "CDHNRUw": 0.72, "GOQ": 0.78, "mM%": 0.86, "W@": 0.98,
    }.items()
    for letter in letters
}  # fmt: skip
_USUAL_LETTER: Final = 0.556
_EAST_ASIAN_LETTER: Final = 1.0
# how much straighter than its chord a stretch of street must be to carry a name
_STRAIGHT: Final = 0.97
_SHARES: Final = (0.5, 0.3, 0.7, 0.15, 0.85)
# rings of places around a stop that its number may go to, in widths of the mark
_RINGS: Final = (0.0, 1.15, 1.7, 2.4, 3.2)
_DIRECTIONS: Final = 12
_OTHER_STREETS: Final = 14
# a name beside its street is nearer than this, in steps of most of a letter's height: farther off it names another
_NEAR: Final = 4


class Label(NamedTuple):
    """A name: its middle in millimetres, its angle in degrees, and whether a stop is on the street."""

    text: str
    x: float
    y: float
    angle: float
    has_stop: bool


class Marker(NamedTuple):
    """The number of a stop: its middle, and the stop itself, in millimetres."""

    x: float
    y: float
    at_x: float
    at_y: float

    @property
    def is_apart(self) -> bool:
        """Whether it had to move from its stop."""
        return math.hypot(self.x - self.at_x, self.y - self.at_y) > 0.1


def label_width(text: str, size: float) -> float:
    """Return about how wide a text is, in the unit of ``size``, the height of its letters."""
    wide = sum(
        _EAST_ASIAN_LETTER if unicodedata.east_asian_width(letter) in "WF" else _LETTERS.get(letter, _USUAL_LETTER)
        for letter in text
    )
    return wide * size


def place_markers(points: Floats, size: float, wide: float, high: float) -> list[Marker]:
    """Return a mark of a size per stop, each at its stop, or as near as it goes without covering another."""
    placed: list[Marker] = []
    for x, y in points:
        places = [
            (x + ring * size * math.cos(turn), y + ring * size * math.sin(turn))
            for ring in _RINGS
            for turn in np.linspace(0, 2 * math.pi, _DIRECTIONS if ring else 1, endpoint=False)
        ]
        inside = [
            (px, py) for px, py in places if size / 2 <= px <= wide - size / 2 and size / 2 <= py <= high - size / 2
        ]
        free = [
            (px, py) for px, py in inside if all(math.hypot(px - one.x, py - one.y) >= size * 1.08 for one in placed)
        ]
        px, py = (free or inside or places)[0]
        placed.append(Marker(float(px), float(py), float(x), float(y)))
    return placed


def place_names(
    streets: Iterable[Street], markers: list[Marker], size: float, mark: float, wide: float, high: float
) -> list[Label]:
    """Return where names go: along their street where it is straight enough, and clear of stops and other names.

    The name of a street that a stop is on goes level and beside it where no stretch carries it, if there is room.
    """
    taken = [shapely.Point(one.x, one.y).buffer(mark / 2 + 0.4) for one in markers]
    frame = shapely.box(0, 0, wide, high)
    labels: list[Label] = []
    others = 0
    for street in streets:
        if not street.name or (not street.has_stop and others >= _OTHER_STREETS):
            continue
        label = _along(street, size, frame, taken) or (_beside(street, size, frame, taken) if street.has_stop else None)
        if label is not None:
            labels.append(label)
            taken.append(_box(label, size))
            others += not street.has_stop
    return labels


def _along(street: Street, size: float, frame: shapely.Geometry, taken: list[shapely.Geometry]) -> Label | None:
    half = label_width(street.name, size) / 2
    lines = sorted(shapely.get_parts(street.lines), key=lambda one: (-round(one.length, 3), one.wkt))
    for line in lines:
        for share in _SHARES:
            middle = share * line.length
            if middle - half < 0 or middle + half > line.length:
                continue
            (ax, ay), (bx, by) = (line.interpolate(middle + way * half).coords[0] for way in (-1, 1))
            chord = math.hypot(bx - ax, by - ay)
            if chord < 2 * half * _STRAIGHT:
                continue
            turn = math.degrees(math.atan2(by - ay, bx - ax))
            # text is never upside down
            turn = turn - 180 if turn > 90 else turn + 180 if turn <= -90 else turn
            x, y = line.interpolate(middle).coords[0]
            label = Label(street.name, x, y, turn, street.has_stop)
            if _is_free(_box(label, size), frame, taken):
                return label
    return None


def _beside(street: Street, size: float, frame: shapely.Geometry, taken: list[shapely.Geometry]) -> Label | None:
    x, y = street.lines.interpolate(0.5, normalized=True).coords[0] if street.lines.geom_type == "LineString" else (
        street.lines.representative_point().coords[0]
    )  # fmt: skip
    half = label_width(street.name, size) / 2
    _, _, wide, high = frame.bounds
    x = min(max(x, half + 0.5), max(wide - half - 0.5, half + 0.5))
    found = [
        Label(street.name, min(max(x + aside * half, half + 0.5), max(wide - half - 0.5, half + 0.5)), at, 0.0, True)
        for step in range(1, _NEAR)
        for aside in (0.0, 0.8, -0.8)
        for at in (y - step * size * 0.8, y + step * size * 0.8)
        if size <= at <= high - size
    ]
    return next((one for one in found if _is_free(_box(one, size), frame, taken)), None)


def _is_free(box: shapely.Geometry, frame: shapely.Geometry, taken: list[shapely.Geometry]) -> bool:
    return bool(frame.contains(box)) and not any(box.intersects(other) for other in taken)


def _box(label: Label, size: float) -> shapely.Geometry:
    half = label_width(label.text, size) / 2
    box = np.array([[-half, -size / 2], [half, -size / 2], [half, size / 2], [-half, size / 2]])
    turn = math.radians(label.angle)
    turned = box @ np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    return shapely.Polygon(turned + np.array([label.x, label.y]))
