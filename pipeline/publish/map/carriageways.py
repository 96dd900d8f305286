"""Where a line of a street runs beside another of the same street: the two carriageways of a dual carriageway."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

__all__ = ["LinesOfStreet", "Place", "near_another"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

# metres between the middles of two carriageways at most: two lanes each, and a median of four more
_REACH_M: Final = 30.0
# a line runs beside others where it is about as long as the part of the street that it covers
_LEAST_RATIO: Final = 0.7
_MOST_RATIO: Final = 1.4
# both ends of a link between carriageways are on them
_ON_M: Final = 1.0
# a shorter way that meets the street at one end alone is a side lane
_SIDE_LANE_M: Final = 200.0
_SHARES: Final = np.linspace(0, 1, 5)
# metres per degree near enough for "beside": only distances up to _REACH_M are compared
_M_PER_DEGREE: Final = 111_320.0


class Place(NamedTuple):
    """Metres from the start of the street to where a line begins, and whether it runs against the street."""

    along_m: float
    is_backwards: bool


def near_another(vertices: Floats, counts: Ints, street: Ints, among: Bools) -> Bools:
    """Return which lines have their middle near another line of their street: the only ones that can run beside one.

    Parameters
    ----------
    vertices, counts
        As ``LinesOfStreet`` takes them, of lines of any street.
    street
        Code of the street of each line; below zero for none.
    among
        The lines that are compared: of a street, all or none.
    """
    found = np.zeros(len(counts), dtype=bool)
    if not among.any():
        return found
    lines = _in_metres(vertices[np.repeat(among, counts)], counts[among], vertices[:, 1].mean())
    middles = shapely.line_interpolate_point(lines, 0.5, normalized=True)
    line, other = shapely.STRtree(lines).query(middles, predicate="dwithin", distance=_REACH_M)
    at, code = np.flatnonzero(among), street[among]
    found[at[line[(line != other) & (code[line] == code[other]) & (code[line] >= 0)]]] = True
    return found


def _in_metres(vertices: Floats, counts: Ints, latitude: float) -> npt.NDArray[np.object_]:
    """Return lines in metres near enough for "beside", on a plane true to scale at a latitude."""
    scale = np.array([np.cos(np.radians(latitude)), 1.0]) * _M_PER_DEGREE
    lines: npt.NDArray[np.object_] = shapely.linestrings(
        vertices * scale, indices=np.repeat(np.arange(len(counts)), counts)
    )
    return lines


class LinesOfStreet:
    """The lines of one street, some of which have their place along it.

    Parameters
    ----------
    vertices
        V by 2, in degrees, longitude first: the vertices of the lines, one line after another.
    counts
        How many vertices each line has.
    length_m
        Length of each line in metres.
    """

    def __init__(self, vertices: Floats, counts: Ints, length_m: Floats) -> None:
        self._lines = _in_metres(vertices, counts, vertices[:, 1].mean())
        self._tree = shapely.STRtree(self._lines)
        self._length_m = length_m
        self._along_m = np.zeros(len(counts))
        self._is_backwards = np.zeros(len(counts), dtype=bool)
        self._is_placed = np.zeros(len(counts), dtype=bool)

    def put(self, line: int, place: Place) -> None:
        """Take down where a line lies along the street."""
        self._along_m[line], self._is_backwards[line] = place
        self._is_placed[line] = True

    def is_branch(self, way: Ints) -> bool:
        """Return whether lines that follow one another are a side lane, which meets the street at one end alone."""
        if self._length_m[way].sum() >= _SIDE_LANE_M or not self._is_placed.any():
            return False
        points = shapely.get_parts(shapely.union_all(self._lines[way]).boundary)
        point, other = self._tree.query(points, predicate="dwithin", distance=_ON_M)
        return len(points) == 2 and len(set(point[self._is_placed[other]])) == 1

    def beside(self, line: int) -> Place | None:
        """Return where a line lies that runs beside lines with a place, or links two of them; None for any other."""
        if not self._length_m[line]:
            return None
        spots = shapely.line_interpolate_point(self._lines[line], _SHARES, normalized=True)
        spot, other = self._tree.query(spots, predicate="dwithin", distance=_REACH_M)
        is_placed = self._is_placed[other]
        spot, other = spot[is_placed], other[is_placed]
        away = shapely.distance(spots[spot], self._lines[other])
        by_distance = np.lexsort((away, spot))
        nearest = by_distance[np.flatnonzero(np.diff(spot[by_distance], prepend=-1))]
        if len(nearest) < len(_SHARES):
            return None
        along = self._along_of(spots, other[nearest])
        begins, ends = float(along[0]), float(along[-1])
        ratio = abs(ends - begins) / self._length_m[line]
        is_link = self._length_m[line] <= 2 * _REACH_M and (away[nearest[[0, -1]]] <= _ON_M).all()
        if not is_link and not _LEAST_RATIO <= ratio <= _MOST_RATIO:
            return None
        return Place(min(begins, ends), begins > ends)

    def _along_of(self, spots: npt.NDArray[np.object_], lines: Ints) -> Floats:
        share = shapely.line_locate_point(self._lines[lines], spots, normalized=True)
        share = np.where(self._is_backwards[lines], 1 - share, share)
        along: Floats = self._along_m[lines] + share * self._length_m[lines]
        return along
