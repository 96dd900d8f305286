"""Where each road segment lies along its street: the segments of one name laid end to end."""

import heapq
from collections import defaultdict
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
from pyproj import Geod

from pipeline.publish.map.carriageways import LinesOfStreet, Place, near_another
from pipeline.publish.map.packing import Packed, pack_ints

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
# connected lines of one name; more are a layer in which "unnamed" is written as a name
_MOST_SEARCHED: Final = 1000
# a way that ends this near its beginning, as a share of what it could span, turns back
_TURNS_BACK: Final = 0.5
_EARTH: Final = Geod(ellps="WGS84")


class AlongStreets(NamedTuple):
    """By line: ``along_m``, the metres from the start of its street to where it begins; ``length_m``; ``is_backwards``.

    A line that is backwards runs against its street: its own end comes first along the street.
    """

    along_m: Floats
    length_m: Floats
    is_backwards: Bools


class _Line(NamedTuple):
    """A line of one street: its position, its first and last node, its length in metres."""

    at: int
    first: int
    last: int
    length: float


class _Laid(NamedTuple):
    line: _Line
    place: Place


# lines in the order of the street, each with whether it is backwards
_Way = list[tuple[_Line, bool]]


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
    codes, _ = pd.factorize(street)
    is_near = near_another(vertices, counts, codes)
    by_street = np.argsort(codes, kind="stable")
    by_street = by_street[codes[by_street] >= 0]
    new_street = np.flatnonzero(np.diff(codes[by_street])) + 1
    for lines in np.split(by_street, new_street) if len(by_street) else []:
        starts, ends = nodes[lines], nodes[lines + len(counts)]
        rank = _ranks(spots, np.concatenate([starts, ends]))
        pieces = list(
            _pieces(
                [
                    _Line(*line)
                    for line in zip(
                        lines.tolist(), starts.tolist(), ends.tolist(), length_m[lines].tolist(), strict=True
                    )
                ],
                rank,
            )
        )
        may_lie_beside = len(pieces) > 1 and len(lines) <= _MOST_SEARCHED and is_near[lines].any()
        laid = None
        if may_lie_beside:
            laid = LinesOfStreet(vertices[_runs(first[lines], counts[lines])], counts[lines], length_m[lines])
        for line, place in _lay(pieces, lines, laid, is_near):
            along_m[line.at], is_backwards[line.at] = place
    return AlongStreets(along_m, length_m, is_backwards)


def _lay(pieces: list[_Way], lines: Ints, laid: LinesOfStreet | None, may_lie_beside: Bools) -> Iterator[_Laid]:
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


def _pieces(lines: list[_Line], rank: dict[int, float]) -> Iterator[_Way]:
    """Yield the pieces of a street in order: those that do not meet by where they begin, each before its branches."""
    waiting = _components(lines, rank)[::-1]
    while waiting:
        component = waiting.pop()
        way = _longest_way(component, rank)
        if rank[_end(way[0])] > rank[_end(way[-1], is_far=True)]:
            way = [(line, not backwards) for line, backwards in reversed(way)]
        yield way
        used = {line.at for line, _ in way}
        if len(used) < len(component):
            waiting += _components([line for line in component if line.at not in used], rank)[::-1]


def _end(step: tuple[_Line, bool], *, is_far: bool = False) -> int:
    line, backwards = step
    return line.last if backwards != is_far else line.first


def _components(lines: list[_Line], rank: dict[int, float]) -> list[list[_Line]]:
    """Return the connected lines of a street, part by part in the order in which they begin along it."""
    if len(lines) == 1:
        return [lines]
    parent: dict[int, int] = {}

    def root(node: int) -> int:
        while (above := parent.setdefault(node, node)) != node:
            parent[node] = parent[above]
            node = parent[node]
        return node

    for line in lines:
        parent[root(line.first)] = root(line.last)
    found: defaultdict[int, list[_Line]] = defaultdict(list)
    for line in lines:
        found[root(line.first)].append(line)
    return sorted(found.values(), key=lambda some: min(min(rank[one.first], rank[one.last]) for one in some))


def _longest_way(lines: list[_Line], rank: dict[int, float]) -> _Way:
    """Return the longest way through connected lines: all of a plain street or loop, no line twice.

    Of a net with forks: from its southernmost or westernmost node to the farthest, and from there to the farthest. In
    a net without loops no way is longer. Where that leads up one carriageway and down the other, the first of the two
    ways instead. The lines of a net of more than ``_MOST_SEARCHED`` with forks follow one another as they begin.
    """
    if len(lines) == 1:
        return [(lines[0], False)]
    at_node: defaultdict[int, list[_Line]] = defaultdict(list)
    for line in lines:
        at_node[line.first].append(line)
        at_node[line.last].append(line)
    lowest = min(at_node, key=lambda node: rank[node])
    if all(len(some) <= 2 for some in at_node.values()):
        return _walk(at_node, min((node for node in at_node if len(at_node[node]) == 1), default=lowest))
    if len(lines) > _MOST_SEARCHED:
        return [(line, False) for line in sorted(lines, key=lambda line: min(rank[line.first], rank[line.last]))]
    far, across = _farthest(at_node, lowest)
    longest = _farthest(at_node, far)[1]
    turns_back = _extent(longest, rank) < _TURNS_BACK * _extent(across, rank)
    return across if turns_back else longest


def _extent(way: _Way, rank: dict[int, float]) -> float:
    return abs(rank[_end(way[-1], is_far=True)] - rank[_end(way[0])])


def _walk(at_node: dict[int, list[_Line]], node: int) -> _Way:
    """Return the lines from a node on, where no more than two meet."""
    way: _Way = []
    used: set[int] = set()
    while line := next((one for one in at_node[node] if one.at not in used), None):
        used.add(line.at)
        way.append((line, line.first != node))
        node = line.last if line.first == node else line.first
    return way


def _farthest(at_node: dict[int, list[_Line]], start: int) -> tuple[int, _Way]:
    """Return the node with the longest shortest way from ``start``, and that way."""
    come_by: dict[int, tuple[_Line, bool] | None] = {}
    queue: list[tuple[float, int, tuple[_Line, bool] | None]] = [(0.0, start, None)]
    far = start
    while queue:
        distance, node, step = heapq.heappop(queue)
        if node in come_by:
            continue
        come_by[node] = step
        far = node
        for line in at_node[node]:
            other = line.last if line.first == node else line.first
            if other not in come_by:
                heapq.heappush(queue, (distance + line.length, other, (line, line.first != node)))
    if far == start:
        return far, [(at_node[start][0], False)]
    way: _Way = []
    node = far
    while step := come_by[node]:
        way.append(step)
        node = _end(step)
    return far, way[::-1]
