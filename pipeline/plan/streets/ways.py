"""The lines of the shortest paths between places, for a map."""

from itertools import pairwise

import numpy as np
from scipy.sparse.csgraph import dijkstra

from pipeline.plan.streets.network import Floats, Ints, Network
from pipeline.plan.streets.paths import Graph, graph_around
from pipeline.plan.streets.seats import Seats

__all__ = ["ways"]

_NO_NODE = -9999  # what scipy writes where no node comes before


def ways(network: Network, seats: Seats, xy: Floats, places: Ints) -> list[Floats]:
    """Return the line from each of n places to the next, n - 1 arrays of x and y in metres.

    Where no road leads from one to the next, the line is straight. A line has two points at least.
    """
    here, at = np.unique(places, return_inverse=True)
    graph = graph_around(network, seats, xy, here)
    first = graph.matrix.shape[0] - len(here)
    sources, source_of = np.unique(at[:-1], return_inverse=True)
    before = dijkstra(graph.matrix, indices=first + sources, return_predecessors=True)[1]
    where = np.concatenate([graph.xy, _seat_xy(network, seats, here)])
    return [
        _way(network, graph, where, _nodes(before[source_of[leg]], first + at[leg + 1]), xy[places[leg : leg + 2]])
        for leg in range(len(places) - 1)
    ]


def _seat_xy(network: Network, seats: Seats, places: Ints) -> Floats:
    on_line = np.column_stack([np.interp(seats.mark[places], network.marks, axis) for axis in network.points.T])
    return np.where(seats.edge[places][:, None] >= 0, on_line, network.xy[seats.node[places]])


def _nodes(before: Ints, last: int) -> list[int]:
    """Return the nodes of the path that ends in ``last``, in order; that node alone where no path leads there."""
    nodes = [last]
    while before[nodes[-1]] != _NO_NODE:
        nodes.append(int(before[nodes[-1]]))
    return nodes[::-1]


def _way(network: Network, graph: Graph, where: Floats, nodes: list[int], ends: Floats) -> Floats:
    points = [ends[:1]]
    if len(nodes) > 1:
        points.append(where[nodes[:1]])
        points += [_between(network, graph, where, *step) for step in pairwise(nodes)]
    way: Floats = np.concatenate([*points, ends[1:]])
    moves = np.concatenate([[True], np.hypot(*np.diff(way, axis=0).T) > 0])
    moves[-1] |= moves.sum() == 1
    kept: Floats = way[moves]
    return kept


def _between(network: Network, graph: Graph, where: Floats, tail: int, head: int) -> Floats:
    """Return the points of the edge from one node to another, without the first."""
    count = graph.matrix.shape[0]
    edge = np.searchsorted(graph.low * count + graph.high, min(tail, head) * count + max(tail, head))
    begin, end = graph.begin[edge], graph.end[edge]
    if np.isnan(begin):
        return where[[head]]
    inner: Floats = network.points[
        np.searchsorted(network.marks, begin, side="right") : np.searchsorted(network.marks, end, side="left")
    ]
    is_along = graph.tail[edge] == tail
    inner = inner if is_along else inner[::-1]
    return np.concatenate([inner, where[[head]]])
