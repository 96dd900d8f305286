"""The order in which the lines of one street follow one another: its pieces, and the longest way through each."""

import heapq
from collections import defaultdict
from collections.abc import Iterator
from typing import Final, NamedTuple

__all__ = ["MOST_SEARCHED", "Line", "Way", "pieces_in_order"]

# connected lines of one name; more are a layer in which "unnamed" is written as a name
MOST_SEARCHED: Final = 1000
# a way that ends this near its beginning, as a share of what it could span, turns back
_TURNS_BACK: Final = 0.5


class Line(NamedTuple):
    """A line of one street: its position, its first and last node, its length in metres."""

    at: int
    first: int
    last: int
    length: float


# lines in the order of the street, each with whether it is backwards
Way = list[tuple[Line, bool]]


def pieces_in_order(lines: list[Line], rank: dict[int, float]) -> Iterator[Way]:
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


def _end(step: tuple[Line, bool], *, is_far: bool = False) -> int:
    line, backwards = step
    return line.last if backwards != is_far else line.first


def _components(lines: list[Line], rank: dict[int, float]) -> list[list[Line]]:
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
    found: defaultdict[int, list[Line]] = defaultdict(list)
    for line in lines:
        found[root(line.first)].append(line)
    return sorted(found.values(), key=lambda some: min(min(rank[one.first], rank[one.last]) for one in some))


def _longest_way(lines: list[Line], rank: dict[int, float]) -> Way:
    """Return the longest way through connected lines: all of a plain street or loop, no line twice.

    Of a net with forks: from its southernmost or westernmost node to the farthest, and from there to the farthest. In
    a net without loops no way is longer. Where that leads up one carriageway and down the other, the first of the two
    ways instead. The lines of a net of more than ``MOST_SEARCHED`` with forks follow one another as they begin.
    """
    if len(lines) == 1:
        return [(lines[0], False)]
    at_node: defaultdict[int, list[Line]] = defaultdict(list)
    for line in lines:
        at_node[line.first].append(line)
        at_node[line.last].append(line)
    lowest = min(at_node, key=lambda node: rank[node])
    if all(len(some) <= 2 for some in at_node.values()):
        return _walk(at_node, min((node for node in at_node if len(at_node[node]) == 1), default=lowest))
    if len(lines) > MOST_SEARCHED:
        return [(line, False) for line in sorted(lines, key=lambda line: min(rank[line.first], rank[line.last]))]
    far, across = _farthest(at_node, lowest)
    longest = _farthest(at_node, far)[1]
    turns_back = _extent(longest, rank) < _TURNS_BACK * _extent(across, rank)
    return across if turns_back else longest


def _extent(way: Way, rank: dict[int, float]) -> float:
    return abs(rank[_end(way[-1], is_far=True)] - rank[_end(way[0])])


def _walk(at_node: dict[int, list[Line]], node: int) -> Way:
    """Return the lines from a node on, where no more than two meet."""
    way: Way = []
    used: set[int] = set()
    while line := next((one for one in at_node[node] if one.at not in used), None):
        used.add(line.at)
        way.append((line, line.first != node))
        node = line.last if line.first == node else line.first
    return way


def _farthest(at_node: dict[int, list[Line]], start: int) -> tuple[int, Way]:
    """Return the node with the longest shortest way from ``start``, and that way."""
    come_by: dict[int, tuple[Line, bool] | None] = {}
    queue: list[tuple[float, int, tuple[Line, bool] | None]] = [(0.0, start, None)]
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
    way: Way = []
    node = far
    while step := come_by[node]:
        way.append(step)
        node = _end(step)
    return far, way[::-1]
