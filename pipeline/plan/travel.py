"""Distances between the places of the plan, its jobs and the starts of its crews, along the road segments."""

from typing import NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.plan.streets.blocks import blocks_of
from pipeline.plan.streets.distances import Distances
from pipeline.plan.streets.network import Floats, Ints, Network, network_of
from pipeline.plan.streets.part import nodes_around, part_of
from pipeline.plan.streets.paths import lengths, parts_of
from pipeline.plan.streets.seats import Seats, seats_of
from pipeline.plan.streets.ways import ways

__all__ = ["Floats", "Ints", "Roads", "Travel", "travel_of"]


class Roads(NamedTuple):
    """The road network, where the P places join it, and which of its connected parts each is in."""

    network: Network
    seats: Seats
    part: Ints


class Travel(NamedTuple):
    """Distances between P places, given by their numbers: the jobs of the plan, then the starts of its crews.

    ``xy``: P by 2, where the places lie, in metres of the run's CRS. ``detour``: where no road leads from one place to
    another, the distance is the straight line times this. ``roads``: None for straight lines throughout. ``near``: the
    paths among some of the places, which are at hand.
    """

    xy: Floats
    detour: float
    roads: Roads | None = None
    near: Distances | None = None

    def metres(self, origins: Ints, destinations: Ints) -> Floats:
        """Return the distances from N to M places, N by M metres."""
        origins, destinations = np.asarray(origins), np.asarray(destinations)
        straight = self.straight(origins[:, None], destinations[None, :]) * self.detour
        if self.roads is None or not straight.size:
            return straight
        network, seats, _ = self.roads
        if self.near is not None and self.near.keeps and self.near.has(origins) and self.near.has(destinations):
            along = self.near.table(origins, destinations)
        else:
            along = lengths(network, seats, self.xy, origins, destinations)
        along += seats.leg_m[origins][:, None] + seats.leg_m[destinations][None, :]
        along[origins[:, None] == destinations[None, :]] = 0.0
        return np.where(np.isfinite(along), along, straight)

    def between(self, origins: Ints, destinations: Ints, most_m: float = np.inf) -> Floats:
        """Return the distance from each of n places to the one beside it, n metres.

        ``most_m``: one along the roads that is longer may be infinite.
        """
        straight = self.straight(origins, destinations)
        metres = straight * self.detour
        if self.roads is None:
            return metres
        if self.near is None or not (self.near.has(origins) and self.near.has(destinations)):
            for at in blocks_of(self.xy, origins):
                one, other = origins[at], destinations[at]
                if len(np.unique(other)) < len(np.unique(one)):
                    one, other = other, one
                metres[at] = self.among(np.concatenate([one, other])).between(one, other, most_m)
            return metres
        led = np.flatnonzero(self.has_road(origins, destinations) & (origins != destinations))
        one, other, leg_m = origins[led], destinations[led], self.roads.seats.leg_m
        metres[led] = self.near.between(one, other, straight[led], most_m) + (leg_m[one] + leg_m[other])
        return metres

    def among(self, places: Ints) -> "Travel":
        """Return the same with the distances among some places at hand."""
        if self.roads is None or not len(places):
            return self
        return self._replace(near=Distances(self.roads.network, self.roads.seats, self.xy, places))

    def only(self, places: Ints, wider: float | None = None) -> "Travel":
        """Return the same of some places alone, in ascending order: they are numbered by their position there.

        ``wider``: with the part of the network around them, as ``part_of`` describes it; None: the whole is shared.
        """
        xy = self.xy[places]
        if self.roads is None:
            return Travel(xy, self.detour)
        network, seats = self.roads.network, self.roads.seats.of(places)
        if wider is not None:
            network, seats = part_of(network, seats, xy, wider)
        return Travel(xy, self.detour, Roads(network, seats, self.roads.part[places]))

    def nodes_around(self, places: Ints, wider: float) -> int:
        """Return how many nodes of the road network are in the part around some places."""
        return 0 if self.roads is None else nodes_around(self.roads.network, self.xy[places], wider)

    def straight(self, origins: Ints, destinations: Ints) -> Floats:
        """Return the straight lines from places to others of the same number, or of a number that goes with theirs."""
        apart = self.xy[origins] - self.xy[destinations]
        metres: Floats = np.hypot(apart[..., 0], apart[..., 1])
        return metres

    def has_road(self, origins: Ints, destinations: Ints) -> npt.NDArray[np.bool_]:
        """Return whether a road leads from each of N places to the one beside it."""
        if self.roads is None:
            return np.zeros(len(origins), dtype=bool)
        joined: npt.NDArray[np.bool_] = self.roads.part[origins] == self.roads.part[destinations]
        return joined

    def ways(self, places: Ints) -> list[Floats]:
        """Return the line from each of n places to the next, n - 1 arrays of x and y in metres."""
        if self.roads is None:
            return [self.xy[places[at : at + 2]] for at in range(len(places) - 1)]
        return ways(self.roads.network, self.roads.seats, self.xy, places)


def travel_of(segments: gpd.GeoDataFrame, cores: pd.DataFrame, starts: Floats, gap_m: float, detour: float) -> Travel:
    """Return the distances between the cores of the plan and the starts of its crews, along the road segments.

    A core joins the network where it lies along its segment; a core without a segment, and a start, at the nearest end
    of a segment.

    Parameters
    ----------
    segments
        M unbroken lines in the run's CRS, in metres: ``start_m``, ``is_underground``, geometry.
    cores
        N rows: ``x_m``, ``y_m``, ``segment`` (row of ``segments``, -1 for none), ``chainage_m``, ``offset_m``.
    starts
        K by 2, in metres of the run's CRS.
    gap_m
        Widest gap between segments that is closed.
    detour
        Where no road leads, the distance is the straight line times this.
    """
    xy = np.concatenate([cores[["x_m", "y_m"]].to_numpy(float), starts])
    if segments.empty:
        return Travel(xy, detour)
    line = np.concatenate([cores["segment"].to_numpy(int), np.full(len(starts), -1)])
    none = np.zeros(len(starts))
    along_m = np.concatenate([cores["chainage_m"].to_numpy(float), none]) - segments["start_m"].to_numpy(float)[line]
    offset_m = np.concatenate([cores["offset_m"].to_numpy(float), none])
    network = network_of(segments, gap_m)
    seats = seats_of(network, xy, line, along_m, offset_m, detour)
    return Travel(xy, detour, Roads(network, seats, parts_of(network, seats, np.arange(len(xy)))))
