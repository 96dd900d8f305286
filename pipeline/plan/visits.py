"""Visits: the cores that share a mix, or one core, as one piece of work with its minutes, load, lateness and days."""

from itertools import chain
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.plan.crews import Bools
from pipeline.plan.minutes import MINUTE_COLUMNS
from pipeline.plan.mixes import MixRules
from pipeline.plan.schedule import Visits
from pipeline.plan.timing import Steps, group_times, opened_bags
from pipeline.plan.travel import Floats, Ints, Travel

__all__ = ["Groups", "groups_of", "joined", "visits_of"]


class Groups(NamedTuple):
    """The cores of G visits, one after the other: those of a visit begin at ``first``, G + 1 numbers.

    Of each of the J cores: ``job`` (position among the jobs), the bags ``opened`` there, minutes from the arrival at
    the first core of the visit to its own ``arrival``, ``pour`` and ``pressed`` (NaN without a mix), and ``walk_m``,
    metres on foot from the core before; 0 at the first. Of each visit: ``span``, minutes from first pour to last press
    without mixing, and ``worked``, until all are cleaned, without the wait for traffic.
    """

    first: Ints
    job: Ints
    opened: Floats
    arrival: Floats
    pour: Floats
    pressed: Floats
    walk_m: Floats
    span: Floats
    worked: Floats

    @property
    def sizes(self) -> Ints:
        """How many cores each visit has."""
        return np.diff(self.first)

    @property
    def last(self) -> Ints:
        """Where the last core of each visit is."""
        return self.first[1:] - 1

    def of(self, visits: Ints) -> "Groups":
        """Return some of the visits, in the order asked for."""
        sizes = self.sizes[visits]
        first = np.concatenate([[0], np.cumsum(sizes)])
        at = np.repeat(self.first[visits] - first[:-1], sizes) + np.arange(first[-1])
        return Groups(
            first,
            self.job[at],
            self.opened[at],
            self.arrival[at],
            self.pour[at],
            self.pressed[at],
            self.walk_m[at],
            self.span[visits],
            self.worked[visits],
        )

    def bags(self) -> Floats:
        """Return the bags of each visit."""
        bags = np.empty(len(self.worked))
        for visits, cores in self.by_size():
            bags[visits] = self.opened[cores].sum(axis=1)
        return bags

    def by_size(self) -> list[tuple[Ints, Ints]]:
        """Return, for each number of cores, the visits that have so many, and where their cores are: a row each."""
        every = [(np.flatnonzero(self.sizes == size), size) for size in np.unique(self.sizes)]
        return [(visits, self.first[visits][:, None] + np.arange(size)) for visits, size in every]


def joined(parts: list[Groups]) -> Groups:
    """Return visits one after the other as one."""
    nothing = np.empty(0, dtype=np.int64)
    first = np.concatenate([[0], np.cumsum(np.concatenate([nothing, *(part.sizes for part in parts)]))])
    job = np.concatenate([nothing, *(part.job for part in parts)])
    rest = [np.concatenate([np.empty(0), *(part[at] for part in parts)]) for at in range(2, len(Groups._fields))]
    return Groups(first.astype(np.int64), job, *rest)


def groups_of(jobs: pd.DataFrame, sets: list[list[int]], travel: Travel, rules: MixRules) -> Groups:
    """Return the visits: what is opened where, and when each core is poured after the arrival."""
    steps = {name: jobs[name].to_numpy(float) for name in MINUTE_COLUMNS}
    place, net = jobs["place"].to_numpy(), jobs["net_bags"].fillna(0.0).to_numpy(float)
    first = np.concatenate([[0], np.cumsum([len(one) for one in sets])]).astype(np.int64)
    job = np.fromiter(chain.from_iterable(sets), dtype=np.int64, count=int(first[-1]))
    zero, none = np.zeros(len(job)), np.full(len(job), np.nan)
    is_survey = jobs["task"].eq("survey").to_numpy()[job[first[:-1]]]
    other = np.where(is_survey, steps["survey_min"][job[first[:-1]]], steps["make_safe_min"][job[first[:-1]]])
    made = Groups(first, job, zero, zero.copy(), none, none.copy(), zero.copy(), np.zeros(len(sets)), other)
    is_mixed = net[job[first[:-1]]] > 0
    walk_m, back_m = _walks(place[job], made, travel)
    made.walk_m[:] = walk_m
    for visits, cores in made.by_size():
        mixed = is_mixed[visits]
        mine, at = visits[mixed], cores[mixed]
        if not len(mine):
            continue
        members = job[at]
        opened = opened_bags(net[members], rules.smallest)
        own = Steps(*(steps[name][members] for name in MINUTE_COLUMNS[: len(Steps._fields)]))
        walks = walk_m[at][:, 1:] / rules.walking_m_min
        times = group_times(own, opened, walks, back_m[mine] / rules.walking_m_min)
        made.opened[at], made.arrival[at] = opened, times.arrival
        made.pour[at], made.pressed[at] = times.pour, times.pressed
        made.span[mine], made.worked[mine] = times.span, times.worked
    return made


def _walks(place: npt.NDArray[np.integer], groups: Groups, travel: Travel) -> tuple[Floats, Floats]:
    """Return the metres to each core of a visit from the one before, and from the last of each back to its first."""
    walk_m, back_m = np.zeros(len(place)), np.zeros(len(groups.worked))
    several = np.flatnonzero(groups.sizes > 1)
    later = np.setdiff1d(np.arange(len(place)), groups.first)
    one = np.concatenate([later - 1, groups.last[several]])
    other = np.concatenate([later, groups.first[:-1][several]])
    metres = travel.between(place[one], place[other])
    walk_m[later], back_m[several] = metres[: len(later)], metres[len(later) :]
    return walk_m, back_m


def visits_of(
    jobs: pd.DataFrame, groups: Groups, allowed: Bools, fits: Bools, late: Floats, bag_kg: float, water_kg: float
) -> Visits:
    """Return the visits as the schedule takes them; a bag weighs ``bag_kg`` and takes ``water_kg`` of water.

    ``allowed``, ``late``: of the N jobs on each day. ``fits``: N by K, which crew may do which job.
    """
    place, gravel = jobs["place"].to_numpy(), jobs["gravel_kg"].fillna(0.0).to_numpy(float)
    count = len(groups.worked)
    load_kg, costs = groups.bags() * (bag_kg + water_kg), np.empty((count, late.shape[1]))
    may, able = np.empty((count, allowed.shape[1]), dtype=bool), np.empty((count, fits.shape[1]), dtype=bool)
    for visits, cores in groups.by_size():
        members = groups.job[cores]
        load_kg[visits] += gravel[members].sum(axis=1)
        costs[visits] = late[members].sum(axis=1)
        may[visits], able[visits] = allowed[members].all(axis=1), fits[members].all(axis=1)
    return Visits(
        load_kg,
        groups.worked,
        groups.pressed[groups.last],
        groups.sizes.astype(float),
        place[groups.job[groups.first[:-1]]],
        place[groups.job[groups.last]],
        costs,
        may,
        able,
    )
