"""Where each road segment lies along its street: the segments of one name laid end to end."""

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
from pyproj import Geod

from pipeline.publish.map.carriageways import LinesOfStreet, Place, near_another
from pipeline.publish.map.packing import Packed, pack_ints
from pipeline.publish.map.street_ways import MOST_SEARCHED, Line, Way, pieces_in_order
from pipeline.publish.map.streets_at_once import Ends, lay_at_once, pieces_of

__all__ = ["GAP_M", "AlongStreets", "pack_along", "place_along_streets"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

# metres left free between two pieces of a street that do not meet, and before a branch
GAP_M: Final = 20.0
# degrees, about 0.1 m: ends that are nearer meet
_MEETS: Final = 1e-6
# a longitude and a latitude in one whole number of 64 bits
_HALF: Final = 32
_NORTHWARD: Final = 2**31
_DM_PER_M: Final = 10
_EARTH: Final = Geod(ellps="WGS84")


class AlongStreets(NamedTuple):
    """By line: ``along_m``, the metres from the start of its street to where it begins; ``length_m``; ``is_backwards``.

    A line that is backwards runs against its street: its own end comes first along the street.
    """

    along_m: Floats
    length_m: Floats
    is_backwards: Bools


class _Laid(NamedTuple):
    line: Line
    place: Place


def place_along_streets(vertices: Floats, counts: Ints, street: pd.Series) -> AlongStreets:
    """Return where each line lies along its street, in metres on the ellipsoid.

    A street runs from west to east, or from south to north if it is longer that way. Of a street that forks, its
    longest way comes first and then the branches; a closed loop is walked round once. Pieces that do not meet follow
    one another with a gap of ``GAP_M``, but a line beside another one of its street, such as the second carriageway of
    a dual carriageway, lies where that one does. A line without a street is a street of its own.

    Parameters
    ----------
    vertices
        V by 2, in degrees, longitude first: the vertices of all lines, one after another.
    counts
        How many vertices each of the N lines has, two or more.
    street
        Name of the street of each line, or missing.
    """
    last = np.cumsum(counts) - 1
    first = last - counts + 1
    length_m = _lengths(vertices, first, last)
    cells = np.rint(vertices[np.concatenate([first, last])] / _MEETS).astype(np.int64)
    nodes, cell = pd.factorize((cells[:, 0] << _HALF) + cells[:, 1] + _NORTHWARD)
    spots = np.column_stack([cell >> _HALF, (cell & (2**_HALF - 1)) - _NORTHWARD]) * _MEETS
    along_m, is_backwards = np.zeros(len(counts)), np.zeros(len(counts), dtype=bool)
    codes, names = pd.factorize(street)
    named = np.flatnonzero(codes >= 0)
    ends = Ends(codes[named], nodes.reshape(2, -1).T[named], spots)
    pieces = pieces_of(ends)
    # a piece can lie beside another one, and so can the branches of one that forks
    is_several = (pieces.of_street > 1) & (np.bincount(ends.street, minlength=len(names)) <= MOST_SEARCHED)
    is_several[ends.street[pieces.is_forked[pieces.piece]]] = True
    is_near = np.zeros(len(counts), dtype=bool)
    is_near[named] = is_several[ends.street]
    is_near = near_another(vertices, counts, codes, is_near)
    is_left = np.zeros(len(names), dtype=bool)
    is_left[codes[is_near]] = True
    laid = lay_at_once(ends, pieces, length_m[named], is_left, GAP_M)
    along_m[named], is_backwards[named] = laid.along_m, laid.is_backwards
    left = named[~laid.is_laid]
    for lines in _by_street(left, codes[left]):
        for line, place in _lay_one(lines, _Layer(vertices, first, counts, length_m, nodes, spots, is_near)):
            along_m[line.at], is_backwards[line.at] = place
    return AlongStreets(along_m, length_m, is_backwards)


class _Layer(NamedTuple):
    """All lines of a layer: their vertices, where each begins, how many it has, and whether it may lie beside one."""

    vertices: Floats
    first: Ints
    counts: Ints
    length_m: Floats
    nodes: Ints
    spots: Floats
    is_near: Bools


def _by_street(lines: Ints, codes: Ints) -> list[Ints]:
    """Return the lines of each street, streets in the order of their codes."""
    by_street = np.argsort(codes, kind="stable")
    return np.split(lines[by_street], np.flatnonzero(np.diff(codes[by_street])) + 1) if len(lines) else []


def _lay_one(lines: Ints, layer: _Layer) -> Iterator[_Laid]:
    """Yield each line of one street with its place."""
    starts, ends = layer.nodes[lines], layer.nodes[lines + len(layer.counts)]
    rank = _ranks(layer.spots, np.concatenate([starts, ends]))
    of_street = zip(lines.tolist(), starts.tolist(), ends.tolist(), layer.length_m[lines].tolist(), strict=True)
    pieces = list(pieces_in_order([Line(*line) for line in of_street], rank))
    laid = None
    if len(pieces) > 1 and len(lines) <= MOST_SEARCHED and layer.is_near[lines].any():
        vertices = layer.vertices[_runs(layer.first[lines], layer.counts[lines])]
        laid = LinesOfStreet(vertices, layer.counts[lines], layer.length_m[lines])
    yield from _lay(pieces, lines, laid, layer.is_near)


def _lay(pieces: list[Way], lines: Ints, laid: LinesOfStreet | None, may_lie_beside: Bools) -> Iterator[_Laid]:
    """Yield each line of a street with its place: beside one that has its place, or after all of them.

    Parameters
    ----------
    pieces
        Of the street, in order.
    lines
        The street's lines, ascending; ``laid`` has them in this order, and is None where none can lie beside another.
    may_lie_beside
        By line of the layer.
    """
    reached = 0.0
    for piece in pieces:
        at = np.searchsorted(lines, [line.at for line, _ in piece])
        begins = reached + GAP_M if reached else 0.0
        is_sought = may_lie_beside[lines[at]]
        if laid is None or not reached or not is_sought.any() or laid.is_branch(at):
            is_sought[:] = False
        found = []
        for place, is_near, (line, backwards) in zip(at.tolist(), is_sought.tolist(), piece, strict=True):
            beside = laid.beside(place) if laid is not None and is_near else None
            found.append(_Laid(line, beside or Place(begins, backwards)))
            if not beside:
                begins += line.length
        for place, one in zip(at.tolist(), found, strict=True):
            if laid is not None:
                laid.put(place, one.place)
            reached = max(reached, one.place.along_m + one.line.length)
        yield from found


def _runs(first: Ints, counts: Ints) -> Ints:
    """Return the whole numbers of several runs, one run after another, by where each begins and how long it is."""
    ends = np.cumsum(counts)
    return np.repeat(first - ends + counts, counts) + np.arange(ends[-1])


def pack_along(along: AlongStreets) -> dict[str, Packed]:
    """Return the places along the streets as columns of the roads: whole decimetres, and a flag."""
    return {
        "along": pack_ints(np.rint(along.along_m * _DM_PER_M).astype(np.int64)),
        "length": pack_ints(np.rint(along.length_m * _DM_PER_M).astype(np.int64)),
        "backwards": pack_ints(along.is_backwards.astype(np.int64)),
    }


def _lengths(vertices: Floats, first: Ints, last: Ints) -> Floats:
    if not len(vertices):
        return np.zeros(0)
    lon, lat = vertices.T
    _, _, steps = _EARTH.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
    so_far = np.concatenate([[0.0], np.cumsum(steps)])
    lengths: Floats = so_far[last] - so_far[first]
    return lengths


def _ranks(spots: Floats, nodes: Ints) -> dict[int, float]:
    """Return how far east each node is, or how far north if the street is longer that way."""
    of_street = spots[nodes]
    wide, high = np.ptp(of_street, axis=0)
    narrowed = np.cos(np.radians(of_street[:, 1].mean()))
    axis = 0 if wide * narrowed >= high else 1
    return dict(zip(nodes.tolist(), of_street[:, axis].tolist(), strict=True))
