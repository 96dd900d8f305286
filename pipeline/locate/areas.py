"""Points in polygons: every pair, found from a tree on the points."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

__all__ = ["Pairs", "pairs_in"]


class Pairs(NamedTuple):
    """P pairs of a point and a polygon it lies in or on, sorted by point, then polygon.

    ``inside`` is False where the point lies on the polygon's own edge.
    """

    point: npt.NDArray[np.intp]
    polygon: npt.NDArray[np.intp]
    inside: npt.NDArray[np.bool_]


def pairs_in(x: npt.NDArray[np.float64], y: npt.NDArray[np.float64], polygons: npt.NDArray[np.object_]) -> Pairs:
    """Find which of N points lie in which of M polygons.

    Coordinates are in one CRS; a point with a missing coordinate is in no polygon.
    """
    placed = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    points = shapely.points(x[placed], y[placed])
    # the many points make the tree and the few polygons ask it: no polygon is asked twice for its own shape
    polygon, point = shapely.STRtree(points).query(polygons, predicate="intersects")
    order = np.lexsort((polygon, point))
    polygon, point = polygon[order], point[order]
    edge = np.zeros(len(point), dtype=bool)
    # only a point in several polygons makes it matter which of them it merely touches
    several = np.flatnonzero(np.bincount(point, minlength=len(points))[point] > 1)
    edge[several] = shapely.touches(polygons[polygon[several]], points[point[several]])
    return Pairs(placed[point], polygon, ~edge)
