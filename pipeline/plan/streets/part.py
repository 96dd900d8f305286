"""The part of a road network around some places: as good as the whole for the paths between them, and far smaller."""

import numpy as np

from pipeline.plan.streets.nearby import each_once, nearby_of
from pipeline.plan.streets.network import Floats, Network
from pipeline.plan.streets.paths import around, ends_at
from pipeline.plan.streets.seats import Seats

__all__ = ["nodes_around", "part_of"]


def nodes_around(network: Network, xy: Floats, wider: float) -> int:
    """Return about how many nodes the part of a network around P places has, see ``part_of``."""
    return len(network.nearby.nodes_in(*around(xy, wider)))


def part_of(network: Network, seats: Seats, xy: Floats, wider: float) -> tuple[Network, Seats]:
    """Return the part of a network around P places, and where they join it.

    ``graph_around`` makes the same of it as of the whole, to the last digit, for all or some of the places: it holds
    every node in the largest box that is looked at, every edge that leads to one, and all in their order. Where a
    larger box is asked for, ``graph_around`` refuses; a part that is ``wider`` then does.

    Parameters
    ----------
    network
        A whole network.
    seats, xy
        Where the P places join it; P by 2, where they lie, in metres of the run's CRS.
    wider
        How much wider than at first paths may be looked for: 1, 4, 16 ...
    """
    within = around(xy, wider)
    inside = each_once(np.concatenate([network.nearby.nodes_in(*within), ends_at(network, seats)]))
    edges = network.nearby.edges_of(inside)
    ends = np.concatenate([network.tail[edges], network.head[edges]])
    nodes = each_once(np.concatenate([inside, ends]))
    tail, head = np.split(np.searchsorted(nodes, ends), 2)
    none = np.empty(0)
    part = Network(
        network.xy[nodes],
        network.part[nodes],
        tail,
        head,
        network.length[edges],
        network.start[edges],
        none,
        none,
        np.empty((0, 2)),
        none,
        network.gaps,
        network.splits,
        nearby_of(network.xy[nodes], tail, head),
        # all nodes are all there is to it
        None if len(inside) == len(network.xy) else within,
    )
    on_edge = seats.edge >= 0
    edge = np.where(on_edge, np.searchsorted(edges, seats.edge), -1)
    node = np.where(on_edge, -1, np.searchsorted(nodes, seats.node))
    return part, seats._replace(edge=edge, node=node)
