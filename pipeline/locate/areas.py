"""Points in polygons: every pair of a point and a polygon that holds it."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

__all__ = ["Pairs", "pairs_in"]


class Pairs(NamedTuple):
    """P pairs of a point and a polygon that it lies in or on, sorted by point, then by polygon.

    ``inside`` is False where the point lies on the edge of the polygon, as far as that matters: a point in one polygon
    alone is always inside it.
    """

    point: npt.NDArray[np.intp]
    polygon: npt.NDArray[np.intp]
    inside: npt.NDArray[np.bool_]


def pairs_in(x: npt.NDArray[np.float64], y: npt.NDArray[np.float64], polygons: npt.NDArray[np.object_]) -> Pairs:
    """Return which of N points lie in which of M polygons.

    Coordinates are in one CRS; a point with a missing coordinate is in no polygon.
    """
    placed = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    points = shapely.points(x[placed], y[placed])
    # the tree holds the many points and is asked once per polygon, so that no polygon is prepared twice
    polygon, point = shapely.STRtree(points).query(polygons, predicate="intersects")
    order = np.lexsort((polygon, point))
    polygon, point = polygon[order], point[order]
    edge = np.zeros(len(point), dtype=bool)
    # which polygon a point merely touches matters only where it lies in several
    several = np.flatnonzero(np.bincount(point, minlength=len(points))[point] > 1)
    edge[several] = shapely.touches(polygons[polygon[several]], points[point[several]])
    return Pairs(placed[point], polygon, ~edge)
