"""The mass of errors over polygons, from those edges alone that the errors reach.

Where the centre lies in the polygon, the mass is one less what lies beyond the edges; else it is what lies beyond them
on the other side. Both are a sum over the edges within a square about the centre (see ``position_error``), and over the
sides of that square within the polygon.
"""

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import shapely
from scipy.special import owens_t

from pipeline.clock import uncounted
from pipeline.locate.position_error import NOTHING_BEYOND, WEIGHED, mass_in

__all__ = ["mass_by_edges"]

Floats = npt.NDArray[np.float64]
Rows = npt.NDArray[np.intp]

# edges of polygons looked at a time
_CHUNK: Final = 250_000
# nearer to an edge than this, in sigmas, inside and outside cannot be told from the edge alone
_ON_EDGE: Final = 1e-6


class _Edges(NamedTuple):
    """The edges of M polygons, the area to the left of each, and their boxes; ``first`` and ``number`` by polygon."""

    first: Rows
    number: Rows
    ax: Floats
    ay: Floats
    bx: Floats
    by: Floats
    south: Floats
    east: Floats
    north: Floats
    west: Floats


class _Ends(NamedTuple):
    """Ends of Q edges within their squares: coordinates, and the side of the square they were cut at, -1 for none.

    Sides are numbered from the southern one against the clock.
    """

    x: Floats
    y: Floats
    side: Rows


def mass_by_edges(
    x: Floats,
    y: Floats,
    sigma: Floats,
    polygons: npt.NDArray[np.object_],
    which: Rows,
    is_inside: npt.NDArray[np.bool_],
    told: Callable[[int], None] = uncounted,
) -> Floats:
    """Return the mass of N errors, each over its own polygon, as ``position_error.mass_in`` does.

    Parameters
    ----------
    x, y
        N centres, in metres.
    sigma
        N standard deviations along one axis, in metres, above zero.
    polygons
        M polygons or multipolygons in the same CRS, valid; holes count as holes.
    which
        N polygons, by their position.
    is_inside
        N, whether the centre lies in its polygon.
    told
        Is told how many are done.
    """
    used, own = np.unique(which, return_inverse=True)
    edges = _edges_of(polygons[used])
    mass, is_open = np.zeros(len(x)), np.zeros(len(x), dtype=bool)
    upto = np.cumsum(edges.number[own])
    begin = 0
    while begin < len(x):
        before = upto[begin - 1] if begin else 0
        end = max(int(np.searchsorted(upto, before + _CHUNK, side="right")), begin + 1)
        here = slice(begin, end)
        mass[here], is_open[here] = _weighed(x[here], y[here], sigma[here], edges, own[here], is_inside[here])
        begin = end
        told(end)
    left = np.flatnonzero(is_open)
    mass[left] = mass_in(x[left], y[left], sigma[left], polygons[which[left]])
    return np.clip(mass, 0.0, 1.0)


def _edges_of(polygons: npt.NDArray[np.object_]) -> _Edges:
    parts, owner = polygons, np.arange(len(polygons))
    if (shapely.get_type_id(polygons) != shapely.GeometryType.POLYGON).any():
        parts, owner = shapely.get_parts(polygons, return_index=True)
        is_area = shapely.get_type_id(parts) == shapely.GeometryType.POLYGON
        parts, owner = parts[is_area], owner[is_area]
    rings, part = shapely.get_rings(parts, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    start = np.flatnonzero(ring[:-1] == ring[1:])
    number = np.bincount(owner[part][ring[start]], minlength=len(polygons))
    # an exterior ring runs against the clock and a hole with it, so that the area is to the left
    is_hole = np.diff(part, prepend=-1) == 0
    backward = (shapely.is_ccw(rings) == is_hole)[ring[start]].astype(np.intp)
    (ax, ay), (bx, by) = points[start + backward].T, points[start + 1 - backward].T
    south, east, north, west = np.minimum(ay, by), np.maximum(ax, bx), np.maximum(ay, by), np.minimum(ax, bx)
    return _Edges(np.cumsum(number) - number, number, ax, ay, bx, by, south, east, north, west)


def _weighed(
    x: Floats, y: Floats, sigma: Floats, edges: _Edges, own: Rows, is_inside: npt.NDArray[np.bool_]
) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Return the masses of some errors, and which of them lie too near an edge to be told so."""
    reach = WEIGHED * sigma
    # as their corners are written: at six sigmas, rounding decides whether anything lies beyond a side
    square = np.stack([y - reach, x + reach, y + reach, x - reach], axis=1)
    error, edge = _within(x, y, square, edges, own)
    start, end, crosses = _cut(x[error], y[error], square[error], edges, edge)
    error, start, end = error[crosses], _ends(start, crosses), _ends(end, crosses)
    beyond, is_near = _beyond(x[error], y[error], sigma[error], start, end)
    count = len(x)
    mass: Floats = is_inside.astype(float) - np.bincount(error, beyond, minlength=count)
    mass -= _beyond_sides(x, y, sigma, square, error, start, end, is_inside)
    is_open = np.bincount(error[is_near], minlength=count) > 0
    return mass, is_open


def _within(x: Floats, y: Floats, square: Floats, edges: _Edges, own: Rows) -> tuple[Rows, Rows]:
    """Return the pairs of an error and an edge of its polygon whose box reaches the square."""
    # errors at one position follow one another: what the widest of them does not reach is left out for all
    is_same = (np.diff(own) == 0) & (np.diff(x) == 0) & (np.diff(y) == 0)
    spot, begins = np.cumsum(np.append(False, ~is_same)), np.flatnonzero(np.append(True, ~is_same))
    furthest = (np.minimum, np.maximum, np.maximum, np.minimum)
    widest = np.stack([of.reduceat(side, begins) for of, side in zip(furthest, square.T, strict=True)], axis=1)
    at, edge = _reaching(widest, edges, *_each(edges.first[own[begins]], edges.number[own[begins]]))
    number = np.bincount(at, minlength=len(begins))
    first = np.cumsum(number) - number
    error, place = _each(first[spot], number[spot])
    return _reaching(square, edges, error, edge[place])


def _each(first: Rows, number: Rows) -> tuple[Rows, Rows]:
    """Return the places of runs that begin at ``first`` and have ``number`` places, and the run of each."""
    run = np.repeat(np.arange(len(first)), number)
    return run, np.arange(len(run)) + np.repeat(first - (np.cumsum(number) - number), number)


def _reaching(square: Floats, edges: _Edges, error: Rows, edge: Rows) -> tuple[Rows, Rows]:
    """Return the pairs of an error and an edge whose box reaches the square."""
    south, east, north, west = square.T
    for reaches, side, limit in (
        (np.greater_equal, edges.east, west),
        (np.less_equal, edges.west, east),
        (np.greater_equal, edges.north, south),
        (np.less_equal, edges.south, north),
    ):
        here = reaches(side[edge], limit[error])
        error, edge = error[here], edge[here]
    return error, edge


def _cut(x: Floats, y: Floats, square: Floats, edges: _Edges, edge: Rows) -> tuple[_Ends, _Ends, npt.NDArray[np.bool_]]:
    """Return both ends of Q edges within their squares, and which edges have a part there."""
    ax, ay, bx, by = edges.ax[edge], edges.ay[edge], edges.bx[edge], edges.by[edge]
    dx, dy = bx - ax, by - ay
    none = np.full(len(edge), -1)
    enters, leaves = np.zeros(len(edge)), np.ones(len(edge))
    by_side, to_side = none.copy(), none.copy()
    # how far along an edge each side is, where the edge runs inwards or outwards over it
    for side, (at, from_, run) in enumerate(((ay, dy, 1), (ax, dx, -1), (ay, dy, -1), (ax, dx, 1))):
        inwards = run * from_
        ahead = run * (square[:, side] - at)
        along = np.divide(ahead, inwards, out=np.zeros(len(edge)), where=inwards != 0)
        later = (inwards > 0) & (along > enters)
        enters, by_side = np.where(later, along, enters), np.where(later, side, by_side)
        earlier = (inwards < 0) & (along < leaves)
        leaves, to_side = np.where(earlier, along, leaves), np.where(earlier, side, to_side)
    return (
        _end_at(x, y, square, (ax, ay, dx, dy), enters, by_side, (ax, ay)),
        _end_at(x, y, square, (ax, ay, dx, dy), leaves, to_side, (bx, by)),
        enters < leaves,
    )


def _end_at(
    x: Floats,
    y: Floats,
    square: Floats,
    line: tuple[Floats, Floats, Floats, Floats],
    along: Floats,
    side: Rows,
    uncut: tuple[Floats, Floats],
) -> _Ends:
    ax, ay, dx, dy = line
    cut = square[np.arange(len(side)), np.maximum(side, 0)]
    # worked out about the centre, where a millionth of a millimetre is not lost
    across_x, across_y = x + ((ax - x) + along * dx), y + ((ay - y) + along * dy)
    is_level, is_upright = (side == 0) | (side == 2), (side == 1) | (side == 3)
    return _Ends(
        np.where(is_upright, cut, np.where(is_level, across_x, uncut[0])),
        np.where(is_level, cut, np.where(is_upright, across_y, uncut[1])),
        side,
    )


def _ends(ends: _Ends, here: npt.NDArray[np.bool_]) -> _Ends:
    return _Ends(ends.x[here], ends.y[here], ends.side[here])


def _beyond(x: Floats, y: Floats, sigma: Floats, start: _Ends, end: _Ends) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Return the signed mass beyond each edge within the angle that it fills, and whether the centre is on the edge."""
    ax, ay, bx, by = ((at - about) / sigma for at, about in ((start.x, x), (start.y, y), (end.x, x), (end.y, y)))
    length = np.hypot(bx - ax, by - ay)
    cross = ax * by - ay * bx
    flat = (length < 1e-12) | (np.abs(cross) <= 1e-12 * np.maximum(length, 1.0))
    safe = np.where(flat, 1.0, length)
    h = np.where(flat, 1.0, np.abs(cross) / safe)
    u = (ax * (bx - ax) + ay * (by - ay)) / safe
    v = (bx * (bx - ax) + by * (by - ay)) / safe
    beyond = np.zeros(len(h))
    close = np.flatnonzero(~flat & (h < NOTHING_BEYOND))
    beyond[close] = owens_t(h[close], v[close] / h[close]) - owens_t(h[close], u[close] / h[close])
    is_near = (flat | (h < _ON_EDGE)) & (u <= _ON_EDGE) & (v >= -_ON_EDGE)
    return np.sign(cross) * beyond, is_near


def _beyond_sides(
    x: Floats,
    y: Floats,
    sigma: Floats,
    square: Floats,
    error: Rows,
    start: _Ends,
    end: _Ends,
    is_inside: npt.NDArray[np.bool_],
) -> Floats:
    """Return the mass beyond the sides of the squares of N errors, where they run within the polygon."""
    count = len(x)
    about = np.stack([y, x, y, x], axis=1)
    h = np.abs(square - about) / sigma[:, None]
    # an edge that leaves begins what lies within, against the clock; one that enters ends it
    out, into = np.flatnonzero(end.side >= 0), np.flatnonzero(start.side >= 0)
    owner = np.concatenate([error[out], error[into]])
    side = np.concatenate([end.side[out], start.side[into]])
    px, py = np.concatenate([end.x[out], start.x[into]]), np.concatenate([end.y[out], start.y[into]])
    begins = np.concatenate([np.ones(len(out)), -np.ones(len(into))])
    dx, dy = (px - x[owner]) / sigma[owner], (py - y[owner]) / sigma[owner]
    along = np.choose(side, [dx, dy, -dx, -dy])
    far = h[owner, side]
    # without a single crossing the counts would be whole numbers
    total: Floats = np.bincount(owner, -begins * _counted(far, along), minlength=count).astype(float)

    # whether the corner where each side begins lies in the polygon
    place = side + (along + WEIGHED) / (2 * WEIGHED)
    order = np.lexsort((place, owner))
    first = order[np.unique(owner[order], return_index=True)[1]]
    covered = is_inside.astype(float)
    covered[owner[first]] = begins[first] < 0
    for corner in range(4):
        before = (corner - 1) % 4
        total += (covered > 0) * (_counted(h[:, before], h[:, corner]) + _counted(h[:, corner], h[:, before]))
        covered = covered + np.bincount(owner[side == corner], begins[side == corner], minlength=count)
    return total


def _counted(far: Floats, along: Floats) -> Floats:
    """Return the mass beyond a line so far away, as far along as that; nothing where it is too far."""
    mass = np.zeros(len(far))
    close = np.flatnonzero(far < NOTHING_BEYOND)
    mass[close] = owens_t(far[close], along[close] / far[close])
    return mass
