"""The places where the names of streets could go on small maps, the best of each street first."""

import math
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from pipeline.publish.plan.streets import Floats, Ints, Lines, single_lines

__all__ = ["Places", "places_of"]

# how much straighter than its chord a stretch of street must be to carry a name
_STRAIGHT: Final = 0.97
_SHARES: Final = (0.5, 0.3, 0.7, 0.15, 0.85)
# a name beside its street is nearer than this, in steps of most of a letter's height: farther off it names another
_NEAR: Final = 4
_STEP: Final = 0.8
_ASIDE: Final = (0.0, 0.8, -0.8)
# from a name beside its street to the edge of the map, in millimetres
_EDGE_MM: Final = 0.5


class Places(NamedTuple):
    """N places by street: the number of the street, the middle in millimetres, and the angle in degrees."""

    street: Ints
    x: Floats
    y: Floats
    angle: Floats

    def where(self, kept: npt.NDArray[np.bool_] | Ints) -> "Places":
        """Return some of the places, by a mask or in an order."""
        return Places(self.street[kept], self.x[kept], self.y[kept], self.angle[kept])

    def corners(self, half: Floats, size: float) -> Floats:
        """Return the boxes of names at the places, N x 4 x 2; ``half``: half the width of each street's name."""
        turn = np.radians(self.angle)[:, np.newaxis]
        along = half[self.street][:, np.newaxis] * np.array([-1, 1, 1, -1])
        across = size / 2 * np.array([-1, -1, 1, 1])
        x = along * np.cos(turn) - across * np.sin(turn)
        y = along * np.sin(turn) + across * np.cos(turn)
        boxes: Floats = np.stack([x + self.x[:, np.newaxis], y + self.y[:, np.newaxis]], axis=2)
        return boxes


def places_of(lines: Lines, half: Floats, paper: Floats, has_stop: npt.NDArray[np.bool_], size: float) -> Places:
    """Return where the names of N streets could go: along the street, then level beside it if a stop is on it.

    Parameters
    ----------
    lines
        Their lines on paper, in millimetres.
    half
        Half the width of each name.
    paper
        N x 2: width and height of each street's map.
    has_stop
        Whether a stop is on it.
    size
        Height of the letters.
    """
    along, beside = _along(lines, half), _beside(lines, half, paper, np.flatnonzero(has_stop), size)
    joined = Places(
        np.concatenate([along.street, beside.street]),
        np.concatenate([along.x, beside.x]),
        np.concatenate([along.y, beside.y]),
        np.concatenate([along.angle, beside.angle]),
    )
    return joined.where(np.argsort(joined.street, kind="stable"))


def _along(lines: Lines, half: Floats) -> Places:
    """Return the places on stretches that are straight enough, those of a street's longest line first."""
    parts, street = single_lines(lines)
    order = _longest_first(parts, street)
    parts, street = parts[order], street[order]
    length, wide = shapely.length(parts)[:, np.newaxis], half[street][:, np.newaxis]
    middles = length * np.array(_SHARES)
    part, share = np.nonzero((middles - wide >= 0) & (middles + wide <= length))
    middle, wide, on = middles[part, share], half[street[part]], parts[part]
    ends = [shapely.get_coordinates(shapely.line_interpolate_point(on, middle + way * wide)) for way in (-1, 1)]
    across, down = (ends[1] - ends[0]).T
    # numpy's own functions differ in the last digit from system to system
    chords = np.array([math.hypot(*step) for step in zip(across.tolist(), down.tolist(), strict=True)])
    kept = chords >= 2 * wide * _STRAIGHT
    turns = [math.degrees(math.atan2(*step)) for step in zip(down[kept].tolist(), across[kept].tolist(), strict=True)]
    # text is never upside down
    level = [turn - 180 if turn > 90 else turn + 180 if turn <= -90 else turn for turn in turns]
    x, y = shapely.get_coordinates(shapely.line_interpolate_point(on[kept], middle[kept])).T
    return Places(street[part[kept]], x, y, np.array(level, float))


def _longest_first(parts: Lines, street: Ints) -> Ints:
    """Return the order of lines by street, the longest first, and those of one length by their points."""
    length = np.array([round(length, 3) for length in shapely.length(parts).tolist()])
    order: Ints = np.lexsort((-length, street))
    is_same = (np.diff(street[order]) == 0) & (np.diff(length[order]) == 0)
    if not is_same.any():
        return order
    same = order[np.concatenate([[False], is_same]) | np.concatenate([is_same, [False]])]
    rank = np.zeros(len(parts), np.intp)
    rank[same] = np.unique(shapely.to_wkt(parts[same], rounding_precision=-1).astype(str), return_inverse=True)[1]
    ranked: Ints = np.lexsort((rank, -length, street))
    return ranked


def _beside(lines: Lines, half: Floats, paper: Floats, streets: Ints, size: float) -> Places:
    """Return the places level beside the middles of some streets, inside their maps, the nearest first."""
    lines, wide, (map_wide, map_high) = lines[streets], half[streets], paper[streets].T
    is_line = shapely.get_type_id(lines) == shapely.GeometryType.LINESTRING
    middle = np.empty((len(lines), 2))
    middle[is_line] = shapely.get_coordinates(shapely.line_interpolate_point(lines[is_line], 0.5, normalized=True))
    middle[~is_line] = shapely.get_coordinates(shapely.point_on_surface(lines[~is_line]))
    x, y = middle.T
    low, high = wide + _EDGE_MM, np.maximum(map_wide - wide - _EDGE_MM, wide + _EDGE_MM)
    x = np.minimum(np.maximum(x, low), high)
    at_x = [np.minimum(np.maximum(x + aside * wide, low), high) for aside in _ASIDE]
    at_y = [(y - step * size * _STEP, y + step * size * _STEP) for step in range(1, _NEAR)]
    tried = [(place_x, place_y) for ways in at_y for place_x in at_x for place_y in ways]
    xs, ys = (np.stack(column, axis=1) for column in zip(*tried, strict=True))
    inside = (size <= ys) & (ys <= map_high[:, np.newaxis] - size)
    street = np.broadcast_to(streets[:, np.newaxis], inside.shape)[inside]
    return Places(street, xs[inside], ys[inside], np.zeros(len(street)))
