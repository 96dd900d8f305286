"""The routes of all crews: group by group of crews that share districts, promised stops first."""

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.clock import Told, silent
from pipeline.engines import HERE, Count, Engine
from pipeline.plan.crews import Bools, Days, Team
from pipeline.plan.lateness import Late
from pipeline.plan.mix_sets import MixSets, mix_sets
from pipeline.plan.mixes import MixRules, mix_groups
from pipeline.plan.promises import Promises, crew_days_of
from pipeline.plan.schedule import Route, schedule, shared_jobs
from pipeline.plan.shares import Planned, Shared, each_share
from pipeline.plan.slots import able_crews, slots_of
from pipeline.plan.streets.paths import BeyondPartError
from pipeline.plan.travel import Floats, Ints, Travel
from pipeline.plan.visits import Groups, groups_of, joined, visits_of

__all__ = ["Routes", "Work", "routes_of"]

# plans of more jobs choose mixes without a search, and routes with fewer iterations, but never fewer than these
_FULL_SEARCH_JOBS: Final = 5000
_FEWEST_ITERATIONS: Final = 40


class Work(NamedTuple):
    """All that the routes depend on: N jobs, D days, K crews.

    ``allowed``, ``late``: N by D, whether a job may be done on a day, and the minutes that lateness costs then.
    ``works``: K by D. ``wait_min``: D minutes to traffic; NaN where a crew does not wait. ``bag_kg``, ``water_kg``:
    weight of a bag and of its water.
    """

    jobs: pd.DataFrame
    allowed: Bools
    late: Late
    teams: list[Team]
    works: Bools
    days: Days
    wait_min: Floats
    travel: Travel
    metres_per_min: float
    rules: MixRules
    bag_kg: float
    water_kg: float
    promises: Promises

    @property
    def planned(self) -> Planned:
        """What a plan is measured by."""
        return Planned(
            self.jobs, self.allowed, self.late, self.teams, self.works, self.days, self.wait_min, self.travel,
            self.rules,
        )  # fmt: skip

    @property
    def starts(self) -> Ints:
        """The places where the crews start."""
        return np.array([team.place for team in self.teams], dtype=np.int64)

    @property
    def least_wait_min(self) -> float:
        """The shortest wait for traffic; 0 where crews do not wait."""
        return float(np.nan_to_num(self.wait_min).min(initial=np.inf)) if len(self.wait_min) else 0.0


class Routes(NamedTuple):
    """The routes of all crews, the visits they are made of, and the weight of each visit.

    ``kept``: numbers of the jobs whose promised stop is kept. ``dropped``: promises that do not fit into the day any
    more, with ``core_id`` and ``why``. ``sets``: for each group of crews, the sets of its jobs that can share a mix;
    None where stops are promised, since those jobs were not looked at.
    """

    routes: list[Route]
    groups: Groups
    load_kg: Floats
    kept: Ints
    dropped: pd.DataFrame
    sets: list[MixSets | None]


class Share(NamedTuple):
    """What the routes of crews that share districts depend on, as ``Work`` describes it; numbered among themselves.

    ``iterations``, ``seed``: how long the search for the routes of a block goes on, and where its random numbers start.
    ``quick``: whether mixes are chosen without a search.
    """

    planned: Planned
    metres_per_min: float
    bag_kg: float
    water_kg: float
    promises: Promises
    iterations: int
    seed: int
    quick: bool


class Part(NamedTuple):
    """The routes of crews that share districts, with the numbers of their own jobs and crews.

    ``visits`` of the routes are numbered from ``groups``. ``over``: jobs whose promised stop does not fit any more.
    """

    routes: list[Route]
    groups: Groups
    load_kg: Floats
    kept: Ints
    over: Ints
    sets: MixSets | None

    def of(self, shared: Shared, before: int) -> "Part":
        """Return the same with the numbers of the whole plan; ``before``: how many visits come before these."""
        together, here = shared
        return Part(
            [
                one._replace(team=together[one.team], visits=[before + number for number in one.visits])
                for one in self.routes
            ],
            self.groups._replace(job=here[self.groups.job]),
            self.load_kg,
            here[self.kept],
            here[self.over],
            self.sets,
        )


def routes_of(work: Work, iterations: int, seed: int, told: Told = silent, engine: Engine = HERE) -> Routes:
    """Return the routes of all crews; ``iterations`` for each block of days, fewer in large plans."""
    jobs, planned = work.jobs, work.planned
    fewer = max(round(iterations * _FULL_SEARCH_JOBS / max(len(jobs), 1)), _FEWEST_ITERATIONS)
    quick = len(jobs) > _FULL_SEARCH_JOBS
    count = Count(told, "crews' days", len(jobs), "cores")
    # crews that share no district have nothing to do with each other
    every = list(shared_jobs(work.teams, jobs["district"]))

    def share(at: int, mine: Planned) -> Share:
        together, here = every[at]
        return Share(
            mine,
            work.metres_per_min,
            work.bag_kg,
            work.water_kg,
            work.promises.among(here, together),
            min(iterations, fewer),
            seed,
            quick,
        )

    found = each_share(engine, routes_of_share, every, lambda _: planned, share, count.told)
    first = np.cumsum([0, *(len(part.groups.worked) for part in found)]).tolist()
    parts = [part.of(shared, before) for part, shared, before in zip(found, every, first, strict=False)]
    none = np.empty(0, dtype=np.int64)
    over = np.concatenate([none, *(part.over for part in parts)])
    return Routes(
        [route for part in parts for route in part.routes],
        joined([part.groups for part in parts]),
        np.concatenate([np.empty(0), *(part.load_kg for part in parts)]),
        np.concatenate([none, *(part.kept for part in parts)]),
        jobs.iloc[over][["core_id"]].assign(why="the crew's day has no room for it any more"),
        [part.sets for part in parts],
    )


def routes_of_share(share: Share, told: Callable[[int], None]) -> Part | None:
    """Return the routes of crews that share districts; None where a path may lead out of the roads of the share.

    ``told``: is told for how many of the jobs a crew and a day have been found.
    """
    try:
        return _routes(share, told)
    except BeyondPartError:
        return None


def _routes(share: Share, told: Callable[[int], None]) -> Part:
    told(0)
    work, promises = share.planned, share.promises
    jobs, teams = work.jobs, work.teams
    promised = promises.sets()
    travel = work.travel.among(np.arange(len(jobs) + len(teams)))
    free = np.flatnonzero(promises.team < 0)
    fits = able_crews(jobs, teams)
    possible, shared = _shared(share, free, fits[free], travel)
    own = groups_of(jobs, [*(free[one].tolist() for one in shared), *promised], travel, work.rules)
    visits = visits_of(jobs, own, work.allowed, fits, work.late[:], share.bag_kg, share.water_kg)
    keys = [(int(promises.team[one[0]]), int(promises.day[one[0]])) for one in promised]
    rooms, full = crew_days_of(visits, keys, teams, work.wait_min, travel, share.metres_per_min)
    found = schedule(
        visits, teams, work.works, work.wait_min, travel, share.metres_per_min, share.iterations, share.seed, rooms,
        told,
    )  # fmt: skip
    told(len(jobs))
    held = np.array([number for room in rooms.values() for number in room.promised], dtype=np.int64)
    return Part(
        found,
        own,
        visits.load_kg,
        own.of(held).job,
        own.of(np.array(full, dtype=np.int64)).job,
        None if promised else possible,
    )


def _shared(share: Share, free: Ints, fits: Bools, travel: Travel) -> tuple[MixSets, list[list[int]]]:
    """Return which sets of jobs can share a mix, and those that do, as positions in ``free``."""
    work = share.planned
    jobs = work.jobs.iloc[free]
    slots = slots_of(fits, work.allowed[free], work.works)
    sets = mix_sets(jobs, slots, travel, work.rules)
    return sets, mix_groups(jobs, sets, slots, work.late[free], quick=share.quick)
