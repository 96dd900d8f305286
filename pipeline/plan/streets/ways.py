"""The lines of the shortest paths between places, for a map."""

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
    edges = _Edges(network, graph, where)
    return [
        _way(edges, _nodes(before[source_of[leg]], first + at[leg + 1]), xy[places[leg : leg + 2]])
        for leg in range(len(places) - 1)
    ]


def _seat_xy(network: Network, seats: Seats, places: Ints) -> Floats:
    mark = seats.mark[places]
    # of the marks, those on both sides of the places are enough: the library copies what it is given
    last = len(network.marks) - 1
    before = np.searchsorted(network.marks, mark, side="right") - 1
    around = np.unique(np.clip(np.concatenate([before, before + 1]), 0, last))
    marks, points = network.marks[around], network.points[around]
    on_line = np.column_stack([np.interp(mark, marks, axis) for axis in points.T])
    return np.where(seats.edge[places][:, None] >= 0, on_line, network.xy[seats.node[places]])


def _nodes(before: Ints, last: int) -> list[int]:
    """Return the nodes of the path that ends in ``last``, in order; that node alone where no path leads there."""
    nodes = [last]
    while before[nodes[-1]] != _NO_NODE:
        nodes.append(int(before[nodes[-1]]))
    return nodes[::-1]


def _way(edges: "_Edges", nodes: list[int], ends: Floats) -> Floats:
    points = [ends[:1]]
    if len(nodes) > 1:
        points += edges.points(np.array(nodes))
    way: Floats = np.concatenate([*points, ends[1:]])
    moves = np.concatenate([[True], np.hypot(*np.diff(way, axis=0).T) > 0])
    moves[-1] |= moves.sum() == 1
    kept: Floats = way[moves]
    return kept


class _Edges:
    """The edges of a graph, found by their nodes; ``where``: the positions of the nodes."""

    def __init__(self, network: Network, graph: Graph, where: Floats) -> None:
        self._network, self._graph, self._where = network, graph, where
        self._count = graph.matrix.shape[0]
        self._keys = graph.low * self._count + graph.high

    def points(self, nodes: Ints) -> list[Floats]:
        """Return the points of a path through at least two nodes, in pieces."""
        network, graph, where = self._network, self._graph, self._where
        low, high = np.minimum(nodes[:-1], nodes[1:]), np.maximum(nodes[:-1], nodes[1:])
        edge = np.searchsorted(self._keys, low * self._count + high)
        begins = np.searchsorted(network.marks, graph.begin[edge], side="right").tolist()
        stops = np.searchsorted(network.marks, graph.end[edge], side="left").tolist()
        is_along = (graph.tail[edge] == nodes[:-1]).tolist()
        has_line = (~np.isnan(graph.begin[edge])).tolist()
        pieces = [where[nodes[:1]]]
        for place, head in enumerate(nodes[1:].tolist()):
            if has_line[place]:
                inner = network.points[begins[place] : stops[place]]
                pieces.append(inner if is_along[place] else inner[::-1])
            pieces.append(where[head : head + 1])
        return pieces
