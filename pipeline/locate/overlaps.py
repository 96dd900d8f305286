"""Polygons that overlap, such as a patch and its street: the larger without the smaller, where it matters."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from pipeline.clock import uncounted
from pipeline.engines import Done
from pipeline.locate.position_error import WEIGHED

__all__ = ["Overlaps", "cut_out", "overlaps_near"]

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

# a smaller overlap, about a hand's breadth square, is a drawing error
_LEAST_OVERLAP_M2: Final = 0.01
# cores looked around at a time
_CHUNK: Final = 100_000


class Overlaps(NamedTuple):
    """Pairs of a polygon and a smaller one that may overlap, in the order of the larger ones, then the smaller."""

    larger: Places
    smaller: Places


def cut_out(polygons: npt.NDArray[np.object_], overlaps: Overlaps, told: Done = uncounted) -> npt.NDArray[np.object_]:
    """Return M polygons, each without what the smaller ones of its pairs cover; ``told`` is told how many are done."""
    larger, smaller = overlaps
    cut = polygons.copy()
    # the first smaller polygon of every larger one is cut out, then the second of every one, and so on
    turn = np.arange(len(larger)) - np.searchsorted(larger, larger)
    for number in range(int(turn.max(initial=-1)) + 1):
        here = turn == number
        which, other = larger[here], polygons[smaller[here]]
        less = shapely.difference(cut[which], other)
        # what is cut out is part of the overlap: only where that is little, the overlap itself has to be known
        is_overlap = shapely.area(cut[which]) - shapely.area(less) > 2 * _LEAST_OVERLAP_M2
        doubtful = np.flatnonzero(~is_overlap)
        overlap = shapely.area(shapely.intersection(polygons[which[doubtful]], other[doubtful]))
        # streets that only share an edge do not overlap
        is_overlap[doubtful] = overlap > _LEAST_OVERLAP_M2
        cut[which[is_overlap]] = less[is_overlap]
        told(int((turn <= number).sum()))
    return cut


def overlaps_near(
    polygons: npt.NDArray[np.object_], x: Floats, y: Floats, sigma: Floats, told: Done = uncounted
) -> Overlaps:
    """Return the polygons that may overlap within the error of a core; the others are left as they are.

    Parameters
    ----------
    polygons
        M polygons, smallest first.
    x, y, sigma
        N positions and the standard deviations of their errors along one axis, in metres, in the same CRS.
    told
        Is told how many cores are looked around.
    """
    reach = WEIGHED * sigma
    boxes = shapely.box(x - reach, y - reach, x + reach, y + reach)
    reached = np.unique(shapely.STRtree(polygons).query(boxes)[1])
    larger, smaller = reached[shapely.STRtree(polygons[reached]).query(polygons[reached])]
    apart = larger > smaller
    larger, smaller = larger[apart], smaller[apart]
    both, other = shapely.bounds(polygons[larger]), shapely.bounds(polygons[smaller])
    west, south = np.maximum(both[:, :2], other[:, :2]).T
    east, north = np.minimum(both[:, 2:], other[:, 2:]).T
    shared = shapely.STRtree(shapely.box(west, south, east, north))
    is_reached = np.zeros(len(larger), dtype=bool)
    corner = np.sqrt(2) * reach
    for begin in range(0, len(x), _CHUNK):
        core, pair = shared.query(boxes[begin : begin + _CHUNK])
        core = core + begin
        points = shapely.points(x[core], y[core])
        for side in (larger, smaller):
            near = shapely.distance(polygons[side[pair]], points) <= corner[core]
            core, pair, points = core[near], pair[near], points[near]
        is_reached[pair] = True
        told(min(begin + _CHUNK, len(x)))
    larger, smaller = larger[is_reached], smaller[is_reached]
    order = np.lexsort((smaller, larger))
    return Overlaps(larger[order], smaller[order])
