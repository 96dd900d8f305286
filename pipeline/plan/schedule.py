"""Which crew does what on which day: block by block of a few working days, for the crews that share districts."""

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from pipeline.plan.crews import Bools, Days, Team
from pipeline.plan.routing import Problem, solve_routes
from pipeline.plan.travel import Floats, Ints, Travel

__all__ = ["Route", "Visits", "schedule", "shared_teams"]

# working days that are planned together
_BLOCK_DAYS: Final = 5
# visits offered to a block, as a multiple of what its crews can do in the time
_OFFERED: Final = 1.5
# what doing a core in this block is worth, in minutes of a crew's work, and what using a crew's day costs: our defaults
_DONE_MIN: Final = 300.0
_DAY_MIN: Final = 30.0
_LEAST_VISIT_MIN: Final = 5.0


class Visits(NamedTuple):
    """Visits, each of the cores that share a mix or of one core: N rows.

    ``frame``: ``district``, ``load_kg``, ``worked_min``, ``pressed_min`` (missing without a mix), ``cores``.
    ``entry``, ``exit``: N places, of the first and of the last core. ``late``: N by D, minutes that lateness costs on
    each day. ``allowed``: N by D. ``surfaces``: the surfaces of each visit's cores.
    """

    frame: pd.DataFrame
    entry: Ints
    exit: Ints
    late: Floats
    allowed: Bools
    surfaces: list[frozenset[str]]


class Route(NamedTuple):
    """The visits of one crew's day, in their order.

    ``hops_m``: metres from the start to the first, from each to the next, and from the last to the start.
    """

    team: int
    day: int
    visits: list[int]
    hops_m: Floats


def shared_teams(teams: list[Team]) -> Iterator[list[int]]:
    """Yield the crews that have to be planned together, since they share a district."""
    names = sorted({name for team in teams for name in team.districts})
    pairs = [(at, names.index(name)) for at, team in enumerate(teams) for name in team.districts]
    if not pairs:
        return
    row, column = np.array(pairs).T
    serves = coo_array((np.ones(len(row)), (row, column)), shape=(len(teams), len(names))).tocsr()
    group = connected_components(serves @ serves.T, directed=False)[1]
    for number in range(int(group.max()) + 1):
        yield [at for at in np.flatnonzero(group == number).tolist() if teams[at].districts]


def schedule(
    visits: Visits,
    teams: list[Team],
    works: Bools,
    days: Days,
    cure_min: Floats,
    travel: Travel,
    metres_per_min: float,
    iterations: int,
    seed: int,
) -> list[Route]:
    """Return the routes of crews that share districts.

    Parameters
    ----------
    visits
        The N visits to these crews' districts.
    teams, works
        The crews, and K by D: the days on which each works.
    days, cure_min
        The D days of the horizon, and the minutes to traffic on each; NaN where the crew does not wait.
    travel, metres_per_min
        Distances, and the speed between visits.
    iterations, seed
        When the search for each block ends, and where its random numbers start.
    """
    left = np.ones(len(visits.frame), dtype=bool)
    open_days = np.flatnonzero(works.any(axis=0))
    routes: list[Route] = []
    for at in range(0, len(open_days), _BLOCK_DAYS):
        block = open_days[at : at + _BLOCK_DAYS]
        vehicles = [(team, int(day)) for day in block for team in range(len(teams)) if works[team, day]]
        offered = _offered(visits, left, teams, vehicles, block, len(days), travel)
        if not len(offered):
            if not left.any():
                break
            continue
        leave, reach = (np.concatenate([_starts(teams), ends[offered]]) for ends in (visits.exit, visits.entry))
        metres = travel.metres(leave, reach)
        problem = _problem(visits, offered, teams, vehicles, cure_min, metres / metres_per_min, block)
        for vehicle, order in enumerate(solve_routes(problem, iterations, seed)):
            if order:
                chosen = offered[order]
                left[chosen] = False
                way = [vehicles[vehicle][0], *(len(teams) + number for number in order), vehicles[vehicle][0]]
                routes.append(Route(*vehicles[vehicle], chosen.tolist(), metres[way[:-1], way[1:]]))
    return routes


def _starts(teams: list[Team]) -> Ints:
    return np.array([team.place for team in teams])


def _shift_min(team: Team, break_min: float) -> float:
    start, end = team.crew.shift
    return end - start - break_min


def _offered(
    visits: Visits,
    left: Bools,
    teams: list[Team],
    vehicles: list[tuple[int, int]],
    block: Ints,
    count: int,
    travel: Travel,
) -> Ints:
    """Return the visits offered to a block: those that it costs most to put off, and those beside them."""
    able = np.flatnonzero(left & visits.allowed[:, block].any(axis=1))
    room = sum(_shift_min(teams[team], teams[team].crew.break_min or 0.0) for team, _ in vehicles)
    work = np.maximum(visits.frame["worked_min"].to_numpy(float)[able], _LEAST_VISIT_MIN)
    if work.sum() <= room * _OFFERED:
        return able
    after = min(int(block[-1]) + 7, count - 1)
    urgent = visits.late[able, after] - visits.late[able][:, block].min(axis=1)
    order = np.lexsort((able, -urgent / work))
    first = order[np.cumsum(work[order]) <= room]
    rest = order[len(first) :]
    xy = travel.xy[visits.entry]
    apart = np.array([np.hypot(*(xy[able[first]] - xy[one]).T).min(initial=np.inf) for one in able[rest]])
    near = rest[np.argsort(apart, kind="stable")]
    near = near[np.cumsum(work[near]) <= room * (_OFFERED - 1)]
    return np.sort(able[np.concatenate([first, near])])


def _problem(
    visits: Visits,
    offered: Ints,
    teams: list[Team],
    vehicles: list[tuple[int, int]],
    cure_min: Floats,
    travel_min: Floats,
    block: Ints,
) -> Problem:
    frame = visits.frame.iloc[offered]
    team = np.array([one for one, _ in vehicles])
    day = np.array([one for _, one in vehicles])
    worked = frame["worked_min"].to_numpy(float)[:, None]
    pressed = frame["pressed_min"].to_numpy(float)[:, None]
    waited = np.fmax(worked, pressed + cure_min[None, day])
    fits = np.array(
        [
            [not teams[one].crew.surfaces or visits.surfaces[at] <= frozenset(teams[one].crew.surfaces) for one in team]
            for at in offered
        ]
    )
    serves = np.array([[district in teams[one].districts for one in team] for district in frame["district"]])
    later = visits.late[offered][:, min(int(block[-1]) + 7, visits.late.shape[1] - 1)]
    return Problem(
        prize=_DONE_MIN * frame["cores"].to_numpy(float) + later,
        late=visits.late[offered][:, day],
        may=visits.allowed[offered][:, day] & fits & serves,
        work=waited,
        load_kg=frame["load_kg"].to_numpy(float),
        shift=np.array([_shift_min(teams[one], teams[one].crew.break_min or 0.0) for one in team]),
        carries_kg=np.array([teams[one].crew.carries_kg for one in team]),
        start=team,
        travel=travel_min,
        day_cost=_DAY_MIN,
    )
