"""The routes of all crews: group by group of crews that share districts, promised stops first."""

from collections.abc import Callable
from functools import partial
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.clock import Told, silent
from pipeline.engines import Count
from pipeline.engines.side_by_side import side_by_side
from pipeline.plan.crews import Bools, Days, Team
from pipeline.plan.lateness import Late
from pipeline.plan.mix_sets import MixSets, mix_sets
from pipeline.plan.mixes import MixRules, mix_groups
from pipeline.plan.promises import Promises, crew_days_of
from pipeline.plan.schedule import Route, schedule, shared_jobs
from pipeline.plan.slots import able_crews, slots_of
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


class _Part(NamedTuple):
    """The routes of crews that share districts, with the numbers of the jobs and crews of the whole plan.

    ``visits`` of the routes are numbered from ``groups``. ``over``: jobs whose promised stop does not fit any more.
    """

    routes: list[Route]
    groups: Groups
    load_kg: Floats
    kept: Ints
    over: Ints
    sets: MixSets | None


def routes_of(work: Work, iterations: int, seed: int, told: Told = silent) -> Routes:
    """Return the routes of all crews; ``iterations`` for each block of days, fewer in large plans."""
    jobs = work.jobs
    fewer = max(round(iterations * _FULL_SEARCH_JOBS / max(len(jobs), 1)), _FEWEST_ITERATIONS)
    search = _Search(min(iterations, fewer), seed)
    count = Count(told, "crews' days", len(jobs), "cores")
    # crews that share no district have nothing to do with each other, and the search lets other threads run
    shares = enumerate(shared_jobs(work.teams, jobs["district"]))
    parts = side_by_side(lambda one: _part(work, *one[1], search, partial(count.told, one[0])), shares)
    first = np.cumsum([0, *(len(part.groups.worked) for part in parts)]).tolist()
    none = np.empty(0, dtype=np.int64)
    over = np.concatenate([none, *(part.over for part in parts)])
    return Routes(
        [
            route._replace(visits=[before + number for number in route.visits])
            for part, before in zip(parts, first, strict=False)
            for route in part.routes
        ],
        joined([part.groups for part in parts]),
        np.concatenate([np.empty(0), *(part.load_kg for part in parts)]),
        np.concatenate([none, *(part.kept for part in parts)]),
        jobs.iloc[over][["core_id"]].assign(why="the crew's day has no room for it any more"),
        [part.sets for part in parts],
    )


class _Search(NamedTuple):
    """How long the search for the routes of a block goes on, and where its random numbers start."""

    iterations: int
    seed: int


def _part(work: Work, together: list[int], here: Ints, search: _Search, told: Callable[[int], None]) -> _Part:
    """Return the routes of crews that share districts, for the jobs there."""
    told(0)
    promises, teams = work.promises, [work.teams[at] for at in together]
    mine, allowed, promised = work.jobs.iloc[here], work.allowed[here], promises.sets_among(here)
    travel = work.travel.among(np.concatenate([here, [team.place for team in teams]]))
    free = np.flatnonzero(promises.team[here] < 0)
    fits = able_crews(mine, teams)
    possible, shared = _shared(work, together, here[free], fits[free], travel)
    own = groups_of(mine, [*(free[one].tolist() for one in shared), *promised], travel, work.rules)
    visits = visits_of(mine, own, allowed, fits, work.late[here], work.bag_kg, work.water_kg)
    at = {team: number for number, team in enumerate(together)}
    keys = [(at[int(promises.team[here[one[0]]])], int(promises.day[here[one[0]]])) for one in promised]
    rooms, full = crew_days_of(visits, keys, teams, work.wait_min, travel, work.metres_per_min)
    found = schedule(
        visits, teams, work.works[together], work.wait_min, travel, work.metres_per_min, *search, rooms, told
    )
    told(len(here))
    held = np.array([number for room in rooms.values() for number in room.promised], dtype=np.int64)
    return _Part(
        [one._replace(team=together[one.team]) for one in found],
        own._replace(job=here[own.job]),
        visits.load_kg,
        here[own.of(held).job],
        here[own.of(np.array(full, dtype=np.int64)).job],
        None if promised else possible,
    )


def _shared(
    work: Work, together: list[int], free: Ints, fits: Bools, travel: Travel
) -> tuple[MixSets, list[list[int]]]:
    """Return which sets of jobs can share a mix, and those that do, as positions in ``free``."""
    jobs = work.jobs.iloc[free]
    slots = slots_of(fits, work.allowed[free], work.works[together])
    sets = mix_sets(jobs, slots, travel, work.rules)
    quick = len(work.jobs) > _FULL_SEARCH_JOBS
    return sets, mix_groups(jobs, sets, slots, work.late[free], quick=quick)
