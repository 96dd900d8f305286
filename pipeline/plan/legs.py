"""What the crews travel: the legs of the plan, how long they are, and what the network lacked for them."""

from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.plan.schedule import Route
from pipeline.plan.travel import Floats, Ints, Travel
from pipeline.plan.visits import Groups
from pipeline.wording import counted

__all__ = ["Travelled", "Ways", "travelled"]

# on a shorter leg, the offset of a core from the road decides the ratio
_LEAST_LEG_M: Final = 100.0


class Travelled(NamedTuple):
    """What the plan's crews travel, and what the road layer lacked for it.

    ``legs``: from a start or a core to the next. ``metres``: of all. ``straight_legs``: of those, how many are straight
    lines times ``detour``, since no road leads from one end to the other. ``ratio``: median of the length along the
    roads over the straight line, of legs of 100 m and more; NaN without any. ``gaps``: gaps of up to ``gap_m`` between
    road segments that were closed. ``splits``: ends of segments at the middle of another. ``parts``: parts of the
    network that are not connected. ``parts_with_work``: of those, the ones with a core or a start. ``off_network``:
    cores without a road segment.
    """

    legs: int
    metres: float
    straight_legs: int
    detour: float
    ratio: float
    gaps: int
    gap_m: float
    splits: int
    parts: int
    parts_with_work: int
    off_network: int

    def notices(self) -> list[str]:
        """Return what the reader of the plan has to know about its distances, in sentences."""
        found = []
        if self.gaps:
            were = "was" if self.gaps == 1 else "were"
            found.append(
                f"{counted(self.gaps, 'gap')} of up to {self.gap_m:g} m between road segments {were} closed (plan.gap)."
            )
        if self.straight_legs:
            are, lines = ("is", "a straight line") if self.straight_legs == 1 else ("are", "straight lines")
            found.append(
                f"The planned cores and the crews' starts lie in {counted(self.parts_with_work, 'unconnected part')} "
                f"of the road network: {self.straight_legs:,} of {counted(self.legs, 'distance')} {are} {lines} "
                f"times {self.detour:g} (plan.detour). Draw the missing road segments, or increase plan.gap."
            )
        if self.off_network:
            have, their = ("has", "its") if self.off_network == 1 else ("have", "their")
            found.append(
                f"{counted(self.off_network, 'core')} of the plan {have} no road segment: {their} distance from the "
                f"nearest end of a segment is a straight line times {self.detour:g} (plan.detour)."
            )
        return found


class Ways(NamedTuple):
    """The lines that crews travel: ``cores`` are the index of the jobs, ``starts`` the places of the crews by name."""

    travel: Travel
    cores: pd.Index
    starts: dict[str, int]

    def of_day(self, crew: str, cores: pd.Index) -> list[Floats]:
        """Return the lines from a crew's start to the first of some cores, from each to the next, and back.

        ``cores``: their index, in the order of the stops. Each line is an array of x and y in metres of the run's CRS.
        """
        start = self.starts[crew]
        return self.travel.ways(np.array([start, *self.cores.get_indexer(cores), start], dtype=np.int64))


def travelled(travel: Travel, routes: list[Route], groups: Groups, starts: Ints, gap_m: float) -> Travelled:
    """Return what the crews travel.

    Parameters
    ----------
    travel
        Distances between the places.
    routes, groups
        The routes, and the groups of jobs that their visits name; jobs are places.
    starts
        The place that each team starts from.
    gap_m
        Widest gap that was closed.
    """
    ends, length = _legs(routes, groups, starts)
    has_road, straight = travel.has_road(*ends.T), travel.straight(*ends.T)
    measured = length[has_road & (straight >= _LEAST_LEG_M)] / straight[has_road & (straight >= _LEAST_LEG_M)]
    roads = travel.roads
    return Travelled(
        legs=len(length),
        metres=float(length.sum()),
        straight_legs=int((~has_road).sum()),
        detour=travel.detour,
        ratio=float(np.median(measured)) if len(measured) else np.nan,
        gaps=roads.network.gaps if roads else 0,
        gap_m=gap_m,
        splits=roads.network.splits if roads else 0,
        parts=int(roads.network.part.max()) + 1 if roads else 0,
        parts_with_work=len(np.unique(roads.part)) if roads else 0,
        off_network=int((roads.seats.edge[: starts.min(initial=len(travel.xy))] < 0).sum()) if roads else 0,
    )


def _legs(routes: list[Route], groups: Groups, starts: Ints) -> tuple[Ints, Floats]:
    """Return the two places of each leg, and its metres: of each day the hops between visits, then the walks."""
    visits = np.concatenate([np.empty(0, dtype=np.int64), *(route.visits for route in routes)]).astype(np.int64)
    made = groups.of(visits)
    counts = np.array([len(route.visits) for route in routes], dtype=np.int64)
    start = starts[np.array([route.team for route in routes], dtype=np.int64)]
    before, after = np.cumsum(counts) - counts, np.cumsum(counts)
    leave = np.insert(made.job[made.last], before, start)
    reach = np.insert(made.job[made.first[:-1]], after, start)
    walks = np.setdiff1d(np.arange(len(made.job)), made.first)
    day = np.repeat(np.arange(len(routes)), counts)
    of_hop, of_walk = np.repeat(np.arange(len(routes)), counts + 1), np.repeat(day, made.sizes)[walks]
    order = np.argsort(np.concatenate([of_hop, of_walk]), kind="stable")
    ends = np.stack([np.append(leave, made.job[walks - 1]), np.append(reach, made.job[walks])], axis=1)
    metres = np.concatenate([np.empty(0), *(route.hops_m for route in routes), made.walk_m[walks]])
    return ends[order], metres[order]
