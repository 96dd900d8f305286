"""Distances between the places of the plan, its jobs and the starts of its crews, along the road segments."""

from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.plan.streets.blocks import blocks_of
from pipeline.plan.streets.network import Floats, Ints, Network, network_of
from pipeline.plan.streets.paths import lengths, parts_of
from pipeline.plan.streets.seats import Seats, seats_of
from pipeline.plan.streets.ways import ways

__all__ = ["Floats", "Ints", "Roads", "Travel", "travel_of"]

# a table of all distances is made for at most so many places
_MOST_PLACES: Final = 4000


class Roads(NamedTuple):
    """The road network, where the P places join it, and which of its connected parts each is in."""

    network: Network
    seats: Seats
    part: Ints


class Table(NamedTuple):
    """Distances between n places: ``row`` of each of the P places, -1 for none, and ``metres``, n by n."""

    row: Ints
    metres: Floats


class Travel(NamedTuple):
    """Distances between P places, given by their numbers: the jobs of the plan, then the starts of its crews.

    ``xy``: P by 2, where the places lie, in metres of the run's CRS. ``detour``: where no road leads from one place to
    another, the distance is the straight line times this. ``roads``: None for straight lines throughout.
    """

    xy: Floats
    detour: float
    roads: Roads | None = None
    table: Table | None = None

    def metres(self, origins: Ints, destinations: Ints) -> Floats:
        """Return the distances from N to M places, N by M metres."""
        origins, destinations = np.asarray(origins), np.asarray(destinations)
        if self.table is not None:
            rows, columns = self.table.row[origins], self.table.row[destinations]
            if rows.min(initial=0) >= 0 and columns.min(initial=0) >= 0:
                return self.table.metres[rows[:, None], columns]
        straight = self.straight(origins[:, None], destinations[None, :]) * self.detour
        if self.roads is None or not straight.size:
            return straight
        network, seats, _ = self.roads
        along = lengths(network, seats, self.xy, origins, destinations)
        along += seats.leg_m[origins][:, None] + seats.leg_m[destinations][None, :]
        along[origins[:, None] == destinations[None, :]] = 0.0
        return np.where(np.isfinite(along), along, straight)

    def between(self, origins: Ints, destinations: Ints) -> Floats:
        """Return the distance from each of n places to the one beside it, n metres."""
        table = self.table
        if table is not None and min(table.row[ends].min(initial=0) for ends in (origins, destinations)) >= 0:
            return table.metres[table.row[origins], table.row[destinations]]
        if self.roads is None:
            return self.straight(origins, destinations) * self.detour
        metres = np.empty(len(origins))
        for at in blocks_of(self.xy, origins):
            leave, row = np.unique(origins[at], return_inverse=True)
            reach, column = np.unique(destinations[at], return_inverse=True)
            metres[at] = self.metres(leave, reach)[row, column]
        return metres

    def among(self, places: Ints) -> "Travel":
        """Return the same with all distances among some places at hand, unless there are too many."""
        here = np.unique(places)
        if self.roads is None or len(here) > _MOST_PLACES:
            return self
        row = np.full(len(self.xy), -1)
        row[here] = np.arange(len(here))
        return self._replace(table=Table(row, self._replace(table=None).metres(here, here)))

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
