"""Shortest paths between places, in the part of the network around them."""

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components, dijkstra

from pipeline.plan.streets.nearby import each_once
from pipeline.plan.streets.network import Floats, Ints, Network
from pipeline.plan.streets.seats import Seats

__all__ = ["BeyondPartError", "Graph", "around", "ends_at", "graph_around", "lengths", "parts_of", "searched"]

# the network is cut this far from the places, and by this share of their extent: our default. A path of up to twice
# that length is surely the shortest; a longer one is the shortest that stays within the cut
_AROUND_M: Final = 500.0
_AROUND_SHARE: Final = 0.1
# cells of the tables of distances that are searched at once: larger ones are slower to write
_CELLS: Final = 2_000_000


class BeyondPartError(Exception):
    """A path may lead out of the part of the network that is at hand."""


class Graph(NamedTuple):
    """The network around n places: ``matrix`` of the lengths of its edges, whose last n nodes are the places.

    ``low``, ``high``: nodes of each edge, sorted. ``tail``: the one that it starts from. ``begin``, ``end``: its marks
    on the lines; NaN off them. ``xy``: where the nodes of the network lie. ``is_whole``: whether nothing was cut off.
    """

    matrix: csr_array
    low: Ints
    high: Ints
    tail: Ints
    begin: Floats
    end: Floats
    xy: Floats
    is_whole: bool


def parts_of(network: Network, seats: Seats, places: Ints) -> Ints:
    """Return the connected part of the network that each of some places is in."""
    edge = seats.edge[places]
    part: Ints = network.part[np.where(edge >= 0, network.tail[np.maximum(edge, 0)], seats.node[places])]
    return part


def lengths(network: Network, seats: Seats, xy: Floats, origins: Ints, destinations: Ints) -> Floats:
    """Return the shortest paths along the network from N to M places, N by M metres; infinite where there is none.

    The ways from the places to the network are left out.
    """
    if len(destinations) < len(origins):
        return lengths(network, seats, xy, destinations, origins).T
    places, at = np.unique(np.concatenate([origins, destinations]), return_inverse=True)
    if len(places) == 1:
        return np.zeros((len(origins), len(destinations)))
    sources, source_of = np.unique(at[: len(origins)], return_inverse=True)
    graph = graph_around(network, seats, xy, places)
    nodes = graph.matrix.shape[0]
    first = nodes - len(places)
    found = [paths[:, first + at[len(origins) :]] for _, paths in searched(graph.matrix, first + sources)]
    metres: Floats = np.concatenate(found)[source_of]
    return metres


def searched(matrix: csr_array, nodes: Ints, limit_m: float = np.inf) -> Iterator[tuple[int, Floats]]:
    """Yield the shortest paths from some nodes to all, a few at a time, and which of the nodes is their first."""
    rows = max(1, _CELLS // matrix.shape[0])
    for begin in range(0, len(nodes), rows):
        yield begin, dijkstra(matrix, indices=nodes[begin : begin + rows], limit=limit_m)


def graph_around(network: Network, seats: Seats, xy: Floats, places: Ints) -> Graph:
    """Return the network around some places, each of them a node.

    It is cut so far from them that no place loses its way to another.

    Raises
    ------
    BeyondPartError
        The network is a part of another that does not reach so far.
    """
    part, wider = parts_of(network, seats, places), 1.0
    while True:
        graph = _cut(network, seats, xy, places, wider)
        if graph.is_whole:
            return graph
        own = connected_components(graph.matrix, directed=False)[1][-len(places) :]
        if len(np.unique(own)) == len(np.unique(part)):
            return graph
        wider *= 4


def _cut(network: Network, seats: Seats, xy: Floats, places: Ints, wider: float) -> Graph:
    low, high = around(xy[places], wider)
    if network.within is not None and ((low < network.within[0]) | (high > network.within[1])).any():
        raise BeyondPartError
    own, node = seats.edge[places], seats.node[places]
    stay = np.flatnonzero(own < 0)
    inside = each_once(np.concatenate([network.nearby.nodes_in(low, high), ends_at(network, seats.of(places))]))
    edges = network.nearby.edges_of(inside)
    used = each_once(np.concatenate([network.tail[edges], network.head[edges], node[stay]]))
    plain = edges[~np.isin(edges, own)]
    chain = _chains(network, seats, places, used)
    off = np.full(len(stay), np.nan)
    begin = network.start[plain]
    edges_of_graph = _Edges(
        np.concatenate([np.searchsorted(used, network.tail[plain]), chain.tail, np.searchsorted(used, node[stay])]),
        np.concatenate([np.searchsorted(used, network.head[plain]), chain.head, len(used) + stay]),
        np.concatenate([begin, chain.begin, off]),
        np.concatenate([begin + network.length[plain], chain.end, off]),
        np.concatenate([network.length[plain], chain.length, np.zeros(len(stay))]),
    )
    is_whole = network.within is None and len(inside) == len(network.xy)
    return _shortest_edges(edges_of_graph, network.xy[used], len(places), is_whole=is_whole)


def around(xy: Floats, wider: float) -> tuple[Floats, Floats]:
    """Return the lower left and the upper right corner of the box in which paths between some places are looked for.

    It holds the boxes of any of these places that are as much ``wider``.
    """
    low, high = xy.min(axis=0), xy.max(axis=0)
    beyond = wider * (_AROUND_M + _AROUND_SHARE * float((high - low).max()))
    return low - beyond, high + beyond


def ends_at(network: Network, seats: Seats) -> Ints:
    """Return the nodes that are kept for some places wherever they lie, not each once."""
    on_edge = seats.edge >= 0
    return np.concatenate([seats.node[~on_edge], network.tail[seats.edge[on_edge]]])


class _Edges(NamedTuple):
    tail: Ints
    head: Ints
    begin: Floats
    end: Floats
    length: Floats


def _chains(network: Network, seats: Seats, places: Ints, used: Ints) -> _Edges:
    """Return the edges that places lie on, split at them: from the tail to the first, to the next, ..., to the head."""
    order = np.lexsort((seats.mark[places], seats.edge[places]))
    order = order[seats.edge[places][order] >= 0]
    own, mark, here = seats.edge[places][order], seats.mark[places][order], len(used) + order
    is_first, is_last = np.diff(own, prepend=-1) != 0, np.diff(own, append=-1) != 0
    before = np.where(is_first, np.searchsorted(used, network.tail[own]), np.roll(here, 1))
    since = np.where(is_first, network.start[own], np.roll(mark, 1))
    last = own[is_last]
    begin = np.concatenate([since, mark[is_last]])
    end = np.concatenate([mark, network.start[last] + network.length[last]])
    tail, head = (
        np.concatenate([before, here[is_last]]),
        np.concatenate([here, np.searchsorted(used, network.head[last])]),
    )
    return _Edges(tail, head, begin, end, np.maximum(end - begin, 0.0))


def _shortest_edges(edges: _Edges, xy: Floats, places: int, *, is_whole: bool) -> Graph:
    """Return the graph of some edges, of several between two nodes the shortest."""
    low, high = np.minimum(edges.tail, edges.head), np.maximum(edges.tail, edges.head)
    count = len(xy) + places
    key = low * count + high
    order = np.argsort(key)
    # few roads have two edges with the same ends, and to sort by length too takes ten times as long
    if (np.diff(key[order]) == 0).any():
        order = np.lexsort((edges.length, key))
    order = order[low[order] != high[order]]
    kept = order[np.diff(key[order], prepend=-1) != 0]
    both = (np.concatenate([low[kept], high[kept]]), np.concatenate([high[kept], low[kept]]))
    matrix = csr_array((np.tile(edges.length[kept], 2), both), shape=(count, count))
    return Graph(matrix, low[kept], high[kept], edges.tail[kept], edges.begin[kept], edges.end[kept], xy, is_whole)
