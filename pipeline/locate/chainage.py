"""How far along its line each core lies, and on which side of it."""

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.locate.candidates import EQUAL_M
from pipeline.locate.posterior import Pieces, pieces_of

__all__ = ["chainage_and_side"]

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]

# a core nearer to the line than this has no side
_ON_LINE_M: Final = 5e-4
# where a line turns back on itself, the sum of the directions of its legs is shorter than this and points nowhere
_NOWHERE: Final = 1e-6
# how many pairs of a core and a straight piece are looked at at a time
_CHUNK: Final = 250_000


class _Feet(NamedTuple):
    """The nearest points on each straight piece of the lines of N cores: K pairs, in the order of cores and pieces.

    ``core``, ``piece``, ``within``: by position, the last among the pieces of the line. ``from_start``, ``length``:
    metres along the piece, and its length. ``gap_x``, ``gap_y``: from there to the core. ``is_start``, ``is_end``: the
    nearest point is that end of the piece. ``is_first``, ``is_last``: the piece is that of its line.
    """

    core: Places
    piece: Places
    within: Places
    from_start: Floats
    length: Floats
    gap_x: Floats
    gap_y: Floats
    is_start: Bools
    is_end: Bools
    is_first: Bools
    is_last: Bools


def chainage_and_side(
    points: npt.NDArray[np.object_],
    line: Places,
    shapes: npt.NDArray[np.object_],
    offset_m: pd.Series,
    pieces: Pieces | None = None,
) -> tuple[Floats, pd.Series]:
    """Return the distance of each point along its own line, in metres, and the side of the line it lies on.

    At a vertex the direction is the mean of the two legs', so that a core in the outer angle lies on the outer
    side. Beyond an end of the line its last leg is continued. No side on the line, or straight beyond its end.
    Where several places of a line are equally near, the chainage is that of the first, and the side that of all of
    them: none where two differ. So the side does not depend on the direction in which the line was drawn.

    Parameters
    ----------
    points
        N points.
    line
        N lines, by their position among the M.
    shapes
        M lines in the same CRS, in metres.
    offset_m
        N distances between the two, in metres.
    pieces
        The straight pieces of the lines, if they are known.
    """
    if pieces is None:
        used, line = np.unique(line, return_inverse=True)
        shapes = shapes[used]
        pieces = pieces_of(shapes)
    along: Floats = shapely.line_locate_point(shapes[line], points)
    x, y = shapely.get_x(points), shapely.get_y(points)
    side = np.zeros(len(points), dtype=np.intp)
    for here in _chunks(pieces.number[line]):
        along[here], side[here] = _by_places(x[here], y[here], line[here], along[here], pieces)
    words = pd.Series(np.where(side > 0, "left", "right"), offset_m.index, dtype="str")
    return along, words.mask((side == 0) | offset_m.lt(_ON_LINE_M))


def _chunks(number: Places) -> Iterator[slice]:
    """Return runs of cores with about as many pieces as are looked at at a time; ``number``: pieces of each core."""
    upto = np.cumsum(number)
    begin = 0
    while begin < len(number):
        before = upto[begin - 1] if begin else 0
        end = max(int(np.searchsorted(upto, before + _CHUNK, side="right")), begin + 1)
        yield slice(begin, end)
        begin = end


def _by_places(x: Floats, y: Floats, line: Places, along: Floats, pieces: Pieces) -> tuple[Floats, Places]:
    """Return chainages, and sides as 1 (left), -1 (right) and 0, by all places of each line that are equally near."""
    feet = _feet(x, y, line, pieces)
    away = np.hypot(feet.gap_x, feet.gap_y)
    least = np.full(len(x), np.inf)
    np.minimum.at(least, feet.core, away)
    place = np.flatnonzero(_is_least_around(feet) & (away <= least[feet.core] + EQUAL_M))
    core, side = feet.core[place], _side(feet, place, pieces)
    sides = np.zeros((2, len(x)), dtype=np.intp)
    np.minimum.at(sides[0], core, side)
    np.maximum.at(sides[1], core, side)
    return _first_along(feet, place, along), sides.sum(axis=0)


def _feet(x: Floats, y: Floats, line: Places, pieces: Pieces) -> _Feet:
    number = pieces.number[line]
    core = np.repeat(np.arange(len(x)), number)
    within = np.arange(number.sum()) - np.repeat(np.cumsum(number) - number, number)
    piece = pieces.first[line][core] + within
    dx, dy, length = x[core] - pieces.x[piece], y[core] - pieces.y[piece], pieces.length[piece]
    far = dx * pieces.along_x[piece] + dy * pieces.along_y[piece]
    at = np.clip(far, 0, length)
    gap_x, gap_y = dx - at * pieces.along_x[piece], dy - at * pieces.along_y[piece]
    is_start, is_end = far <= EQUAL_M, far >= length - EQUAL_M
    is_last = within == number[core] - 1
    return _Feet(core, piece, within, at, length, gap_x, gap_y, is_start, is_end, within == 0, is_last)


def _is_least_around(feet: _Feet) -> Bools:
    """Return which feet no other on the same or the next piece undercuts: at a vertex, those of both pieces."""
    goes_on = np.append(feet.is_start[1:], False)
    came_up = np.concatenate([[False], feet.is_end[:-1]])
    at_start, at_end = feet.is_first | came_up, feet.is_last | goes_on
    is_least: Bools = (~feet.is_start | at_start) & (~feet.is_end | at_end)
    return is_least


def _side(feet: _Feet, place: Places, pieces: Pieces) -> Places:
    """Return the sides that K places see their cores on, as 1 (left), -1 (right) and 0."""
    piece = feet.piece[place]
    # at a vertex, the leg on its other side
    step = (feet.is_end & ~feet.is_last)[place].astype(np.intp) - (feet.is_start & ~feet.is_first)[place]
    other = piece + step
    along_x, along_y = (of[piece] + of[other] for of in (pieces.along_x, pieces.along_y))
    size = np.hypot(along_x, along_y)
    across = along_x * feet.gap_y[place] - along_y * feet.gap_x[place]
    sideways = np.where(size < _NOWHERE, 0, across / np.maximum(size, _NOWHERE))
    side: Places = np.where(np.abs(sideways) < _ON_LINE_M, 0, np.sign(sideways)).astype(np.intp)
    return side


def _first_along(feet: _Feet, place: Places, along: Floats) -> Floats:
    """Return the chainages, those of cores with several places equally near by the first of these."""
    core, first = np.unique(feet.core[place], return_index=True)
    chosen = np.full(len(along), -1)
    chosen[core] = feet.within[place[first]]
    # the pieces before it, one after another: the sum does not depend on which other cores are looked at
    before = np.bincount(feet.core, np.where(feet.within < chosen[feet.core], feet.length, 0.0), minlength=len(along))
    found = along.copy()
    found[core] = before[core] + feet.from_start[place[first]]
    return np.where(found < along - EQUAL_M, found, along)
