"""The probability that a core lies in an area, given the error of its position: exact, for whole columns.

The error of a position is a round two-dimensional normal distribution. Its mass over a polygon is a sum over the edges
of the polygon: an edge and the centre form a triangle, whose mass is its angle's share of the circle minus what lies
beyond the edge, and that is Owen's T function (D. B. Owen, Tables for computing bivariate normal probabilities, Annals
of Mathematical Statistics 27, 1956).
"""

from typing import Final

import numpy as np
import numpy.typing as npt
import shapely
from scipy.special import owens_t

__all__ = [
    "FAR",
    "NOTHING_BEYOND",
    "NSSDA_95",
    "WEIGHED",
    "mass_in",
    "reach_of_rounding_m",
    "rounding_weighed_m",
    "sigma_of",
]

# square root of the 95 % point of chi-square with two degrees of freedom: a circle of this many sigmas holds 95 %
# (FGDC-STD-007.3-1998, NSSDA, gives it as 2.4477)
NSSDA_95: Final = 2.447746830680816
# only 1 in 2,981 errors is longer than this many sigmas: exp(-4^2 / 2)
FAR: Final = 4.0
# half the side of the square that errors are weighed over, in sigmas: 2 in 1,000,000,000 leave it by each of its sides
WEIGHED: Final = FAR + 2
# less than 1 in 1,000,000,000 lies beyond an edge this many sigmas away
NOTHING_BEYOND: Final = 6.0
_MOST_ROUNDING_M: Final = 100.0


def sigma_of(accuracy_95_m: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return the standard deviation along one axis, in metres, for a radius that holds 95 % of the errors."""
    return accuracy_95_m / NSSDA_95


def rounding_weighed_m(rounding_sigma_m: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return the standard deviations that rounded digits add along one axis, in metres; 0 where none are written.

    They are limited to 100 m: beyond that no street is likely, and weighing every street of a town costs time.
    """
    return np.minimum(np.nan_to_num(rounding_sigma_m), _MOST_ROUNDING_M)


def reach_of_rounding_m(rounding_sigma_m: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return how far a position may lie from the one that was written because its digits are rounded, in metres.

    With steps a and b that is half the diagonal of their rectangle, sqrt(a^2 + b^2) / 2; the standard deviation along
    one axis is sqrt((a^2 + b^2) / 24).
    """
    reach: npt.NDArray[np.float64] = np.sqrt(24) / 2 * rounding_sigma_m
    return reach


def mass_in(
    x: npt.NDArray[np.float64],
    y: npt.NDArray[np.float64],
    sigma: npt.NDArray[np.float64],
    polygons: npt.NDArray[np.object_],
) -> npt.NDArray[np.float64]:
    """Return the mass of N errors, each over its own polygon.

    Parameters
    ----------
    x, y
        N centres, in metres.
    sigma
        N standard deviations along one axis, in metres, above zero.
    polygons
        N polygons or multipolygons in the same CRS, valid; holes count as holes.

    Returns
    -------
    numpy.ndarray
        N probabilities.
    """
    # only the part within reach of the error counts, and a small part has few edges
    reach = WEIGHED * sigma
    near = shapely.intersection(polygons, shapely.box(x - reach, y - reach, x + reach, y + reach))
    # exterior rings run one way and holes the other, so that their masses have opposite signs
    near = shapely.orient_polygons(near, exterior_cw=False)
    parts, owner = shapely.get_parts(near, return_index=True)
    is_area = shapely.get_type_id(parts) == shapely.GeometryType.POLYGON
    rings, part = shapely.get_rings(parts[is_area], return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    owner_of_point = owner[is_area][part][ring]
    # an edge joins two consecutive points of one ring
    start = np.flatnonzero(ring[:-1] == ring[1:])
    edge_owner = owner_of_point[start]
    scale = sigma[edge_owner]
    ax = (points[start, 0] - x[edge_owner]) / scale
    ay = (points[start, 1] - y[edge_owner]) / scale
    bx = (points[start + 1, 0] - x[edge_owner]) / scale
    by = (points[start + 1, 1] - y[edge_owner]) / scale
    mass = np.bincount(edge_owner, weights=_triangle(ax, ay, bx, by), minlength=len(x))
    return np.clip(mass, 0.0, 1.0)


def _triangle(
    ax: npt.NDArray[np.float64], ay: npt.NDArray[np.float64], bx: npt.NDArray[np.float64], by: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """Return the signed mass of the triangles between the centre and the edges a-b, in units of sigma.

    From the foot of the perpendicular, at distance h, the edge runs from u to v: the mass is that of the angles
    at the centre minus what lies beyond the edge, T(h, v/h) - T(h, u/h). Positive where a-b turns left.
    """
    length = np.hypot(bx - ax, by - ay)
    cross = ax * by - ay * bx
    # an edge through the centre, or without length, forms no triangle
    flat = (length < 1e-12) | (np.abs(cross) <= 1e-12 * np.maximum(length, 1.0))
    safe = np.where(flat, 1.0, length)
    h = np.where(flat, 1.0, np.abs(cross) / safe)
    u = (ax * (bx - ax) + ay * (by - ay)) / safe
    v = (bx * (bx - ax) + by * (by - ay)) / safe
    angle = np.arctan2(v, h) - np.arctan2(u, h)
    # beyond an edge far enough away nothing is left to subtract
    beyond = np.zeros(len(h))
    close = np.flatnonzero(~flat & (h < NOTHING_BEYOND))
    beyond[close] = owens_t(h[close], v[close] / h[close]) - owens_t(h[close], u[close] / h[close])
    return np.where(flat, 0.0, np.sign(cross) * (angle / (2 * np.pi) - beyond))
