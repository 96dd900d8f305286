"""Where the places of the plan join the network: on an edge, or at a node."""

from typing import NamedTuple

import numpy as np
from scipy.spatial import cKDTree

from pipeline.plan.streets.network import Floats, Ints, Network

__all__ = ["Seats", "seats_of"]


class Seats(NamedTuple):
    """Where P places join the network.

    ``edge``: the edge that each lies on, -1 where it joins at ``node``. ``mark``: its position along all lines laid end
    to end. ``leg_m``: metres from the place to there.
    """

    edge: Ints
    node: Ints
    mark: Floats
    leg_m: Floats

    def of(self, places: Ints) -> "Seats":
        """Return those of some of the places."""
        return Seats(self.edge[places], self.node[places], self.mark[places], self.leg_m[places])


def seats_of(network: Network, xy: Floats, line: Ints, along_m: Floats, offset_m: Floats, detour: float) -> Seats:
    """Return where each of P places joins the network.

    Parameters
    ----------
    network
        The network of M lines.
    xy
        P by 2, in metres of the run's CRS.
    line, along_m, offset_m
        The line that each place lies on, -1 for none; how far along it and from it, in metres.
    detour
        A place without a line joins at the nearest end of an edge: the straight line times this.
    """
    has_line = line >= 0
    own = np.where(has_line, line, 0)
    mark = np.clip(network.first[own] + np.nan_to_num(along_m), network.first[own], network.last[own])
    starts = network.start[np.isfinite(network.start)]
    edge = np.where(has_line, np.searchsorted(starts, mark, side="right") - 1, -1)
    # a crew without work has no start; nothing asks for distances to it
    node = np.where(has_line, -1, 0)
    leg_m = np.nan_to_num(offset_m)
    lost = np.flatnonzero(~has_line & np.isfinite(xy).all(axis=1))
    if len(lost):
        apart, node[lost] = cKDTree(network.xy).query(xy[lost])
        leg_m[lost] = apart * detour
    return Seats(edge.astype(np.int64), node.astype(np.int64), np.where(has_line, mark, np.nan), leg_m)
