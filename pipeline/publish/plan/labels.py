"""Where the names of streets go on small maps, so that none covers a stop or another name."""

import math
import unicodedata
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from pipeline.publish.plan.label_places import Places, places_of
from pipeline.publish.plan.markers import Marker
from pipeline.publish.plan.streets import Floats, Street

__all__ = ["Label", "NamedMap", "label_width", "place_names"]

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
# names of streets that no stop is on
_OTHER_STREETS: Final = 14
# what stays free round a mark, in millimetres
_CLEAR_MM: Final = 0.4
# the circle round a mark is a polygon of 64 corners: its sides are nearer than its corners by this share
_CORNERS: Final = 64
_SIDES: Final = math.cos(math.pi / _CORNERS)
_HARDLY_MM: Final = 1e-6


class Label(NamedTuple):
    """A name: its middle in millimetres, its angle in degrees, and whether a stop is on the street."""

    text: str
    x: float
    y: float
    angle: float
    has_stop: bool


class NamedMap(NamedTuple):
    """A map whose streets are to be named: its streets, what names may not cover, and its size in millimetres."""

    streets: Sequence[Street]
    markers: Sequence[Marker]
    wide: float
    high: float


@lru_cache(maxsize=20_000)
def label_width(text: str, size: float) -> float:
    """Return about how wide a text is, in the unit of ``size``, the height of its letters."""
    return sum(map(_letter_width, text)) * size


@lru_cache(maxsize=4096)
def _letter_width(letter: str) -> float:
    if unicodedata.east_asian_width(letter) in "WF":
        return _EAST_ASIAN_LETTER
    return _LETTERS.get(letter, _USUAL_LETTER)


def place_names(maps: Sequence[NamedMap], size: float, mark: float) -> list[list[Label]]:
    """Return where names go on each map: along their street where it is straight enough, clear of stops and names.

    The name of a street that a stop is on goes level and beside it where no stretch carries it, if there is room.

    Parameters
    ----------
    maps
        The maps.
    size
        Height of the letters, in millimetres.
    mark
        Width of the mark of a stop, in millimetres.
    """
    named = [[street for street in one.streets if street.name] for one in maps]
    streets = [street for mine in named for street in mine]
    if not streets:
        return [[] for _ in maps]
    half = np.array([label_width(street.name, size) / 2 for street in streets])
    paper = np.repeat(np.array([(one.wide, one.high) for one in maps], float), [len(mine) for mine in named], axis=0)
    lines = np.array([street.lines for street in streets], object)
    places = places_of(lines, half, paper, np.array([street.has_stop for street in streets], bool), size)
    boxes = places.corners(half, size)
    beyond = (boxes < 0) | (boxes > paper[places.street][:, np.newaxis])
    inside = np.flatnonzero(~beyond.any(axis=(1, 2)))
    places, boxes = places.where(inside), boxes[inside]
    ends = np.cumsum([0, *map(len, named)])
    clear = _clear(places, boxes, half, size, np.searchsorted(places.street, ends), maps, mark / 2 + _CLEAR_MM)
    places, boxes = places.where(clear), boxes[clear]
    begins = np.searchsorted(places.street, np.arange(len(streets) + 1)).tolist()
    chosen = _Chosen(places, boxes, begins)
    return [chosen.labels(mine, first) for mine, first in zip(named, ends.tolist(), strict=False)]


def _clear(
    places: Places, boxes: Floats, half: Floats, size: float, begins: npt.NDArray[np.intp], maps: Sequence[NamedMap],
    radius: float,
) -> npt.NDArray[np.bool_]:  # fmt: skip
    """Return which boxes touch no circle round a mark of their map, whose places begin where ``begins`` says."""
    clear = np.ones(len(boxes), bool)
    sure, unsure = (radius * _SIDES - _HARDLY_MM) ** 2, (radius + _HARDLY_MM) ** 2
    turn = np.radians(places.angle)
    doubtful: list[tuple[int, float, float]] = []
    for one, (begin, end) in zip(maps, pairwise(begins.tolist()), strict=True):
        marks = np.array([(marker.x, marker.y) for marker in one.markers], float).reshape(-1, 2)
        mine = slice(begin, end)
        right = marks[:, 0] - places.x[mine, np.newaxis]
        down = marks[:, 1] - places.y[mine, np.newaxis]
        cosine, sine = np.cos(turn[mine, np.newaxis]), np.sin(turn[mine, np.newaxis])
        along = np.abs(right * cosine + down * sine) - half[places.street[mine], np.newaxis]
        across = np.abs(down * cosine - right * sine) - size / 2
        apart = np.maximum(along, 0) ** 2 + np.maximum(across, 0) ** 2
        clear[mine] = ~(apart < sure).any(axis=1)
        box, mark = np.nonzero((apart >= sure) & (apart <= unsure))
        doubtful += zip((box + begin).tolist(), *marks[mark].T.tolist(), strict=True)
    if doubtful:
        box = np.array([number for number, _, _ in doubtful])
        circles = shapely.buffer(shapely.points([(x, y) for _, x, y in doubtful]), radius, quad_segs=_CORNERS // 4)
        clear[box[shapely.intersects(shapely.polygons(boxes[box]), circles)]] = False
    return clear


class _Chosen:
    """Chooses a place for each street in turn; the places of street k are those from ``begins[k]``."""

    def __init__(self, places: Places, boxes: Floats, begins: list[int]) -> None:
        self._middles = list(zip(places.x.tolist(), places.y.tolist(), places.angle.tolist(), strict=True))
        self._low, self._high, self._boxes = boxes.min(axis=1).tolist(), boxes.max(axis=1).tolist(), boxes
        self._begins = begins

    def labels(self, streets: Sequence[Street], first: int) -> list[Label]:
        """Return the names on one map, whose first street has the number ``first``."""
        labels: list[Label] = []
        taken: list[int] = []
        others = 0
        for number, street in enumerate(streets, first):
            if not street.has_stop and others >= _OTHER_STREETS:
                continue
            mine = range(self._begins[number], self._begins[number + 1])
            place = next((one for one in mine if not any(self._meet(one, other) for other in taken)), None)
            if place is not None:
                labels.append(Label(street.name, *self._middles[place], street.has_stop))
                taken.append(place)
                others += not street.has_stop
        return labels

    def _meet(self, one: int, other: int) -> bool:
        (west, south), (east, north) = self._low[one], self._high[one]
        (other_west, other_south), (other_east, other_north) = self._low[other], self._high[other]
        if east < other_west or other_east < west or north < other_south or other_north < south:
            return False
        return bool(shapely.intersects(*shapely.polygons(self._boxes[[one, other]])))
