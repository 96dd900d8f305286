"""Which crew does what on which day: block by block of a few working days, for the crews that share districts."""

from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

import numpy as np
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from pipeline.plan.crews import Bools, Team
from pipeline.plan.objective import DAY_MIN, LEFT_OUT_MIN, PUT_OFF_DAYS
from pipeline.plan.routing import Problem, solve_routes
from pipeline.plan.travel import Floats, Ints, Travel

__all__ = ["CrewDay", "Route", "Visits", "schedule", "shared_jobs", "shared_teams", "whole_day"]

# working days that are planned together
_BLOCK_DAYS: Final = 5
# visits offered to a block, as a multiple of what its crews can do in the time
_OFFERED: Final = 1.5
_LEAST_VISIT_MIN: Final = 5.0


class Visits(NamedTuple):
    """N visits, each of the cores that share a mix or of one core.

    ``load_kg``, ``worked_min``, ``pressed_min`` (NaN without a mix), and how many ``cores``. ``entry``, ``exit``: N
    places, of the first and of the last core. ``late``: N by D, minutes that lateness costs on each day. ``allowed``: N
    by D. ``fits``: N by K, whether a crew serves all districts and works in all surfaces of the visit.
    """

    load_kg: Floats
    worked_min: Floats
    pressed_min: Floats
    cores: Floats
    entry: Ints
    exit: Ints
    late: Floats
    allowed: Bools
    fits: Bools


class Route(NamedTuple):
    """The visits of one crew's day, in their order.

    ``hops_m``: metres from the start to the first, from each to the next, and from the last to the start.
    """

    team: int
    day: int
    visits: list[int]
    hops_m: Floats


class CrewDay(NamedTuple):
    """What is left of a crew's day after its promised visits: its place, its minutes, and what it can still carry."""

    promised: list[int]
    place: int
    minutes: float
    carries_kg: float


def shared_teams(teams: list[Team]) -> Iterator[list[int]]:
    """Yield the crews that have to be planned together, since they share a district."""
    names = sorted({name for team in teams for name in team.districts})
    pairs = [(at, names.index(name)) for at, team in enumerate(teams) for name in team.districts]
    if not pairs:
        return
    row, column = np.array(pairs).T
    serves = coo_array((np.ones(len(row)), (row, column)), shape=(len(teams), len(names))).tocsr()
    group = connected_components(serves @ serves.T, directed=False)[1]
    working = np.array([bool(team.districts) for team in teams])
    for number in np.unique(group[working]):
        yield np.flatnonzero((group == number) & working).tolist()


def shared_jobs(teams: list[Team], districts: pd.Series) -> Iterator[tuple[list[int], Ints]]:
    """Yield the crews that have to be planned together, and the jobs in their districts.

    ``districts``: those of the N jobs.
    """
    district, names = pd.factorize(districts)
    order = np.argsort(district, kind="stable")
    ends = np.searchsorted(district[order], np.arange(len(names) + 1))
    for together in shared_teams(teams):
        mine = pd.Index(names).get_indexer(pd.Index(sorted({name for at in together for name in teams[at].districts})))
        here = [order[ends[one] : ends[one + 1]] for one in mine if one >= 0]
        yield together, np.sort(np.concatenate([order[:0], *here]))


class _Board(NamedTuple):
    """What stays the same from block to block."""

    visits: Visits
    teams: list[Team]
    crew_days: dict[tuple[int, int], CrewDay]
    cure_min: Floats
    travel: Travel
    metres_per_min: float


def schedule(
    visits: Visits,
    teams: list[Team],
    works: Bools,
    cure_min: Floats,
    travel: Travel,
    metres_per_min: float,
    iterations: int,
    seed: int,
    promised: dict[tuple[int, int], CrewDay] | None = None,
    told: Callable[[int], None] = lambda _: None,
) -> list[Route]:
    """Return the routes of crews that share districts.

    Parameters
    ----------
    visits
        The N visits to these crews' districts.
    teams, works
        The crews, and K by D: the days on which each works.
    cure_min
        D minutes to traffic on each day of the horizon; NaN where the crew does not wait.
    travel, metres_per_min
        Distances, and the speed between visits.
    iterations, seed
        When the search for each block ends, and where its random numbers start.
    promised
        What is left of the days of crews with promised visits, by number of the crew and of the day.
    told
        Is told before each block for how many cores a crew and a day have been found.
    """
    left = np.ones(len(visits.cores), dtype=bool)
    given = promised or {}
    for crew_day in given.values():
        left[crew_day.promised] = False
    board = _Board(visits, teams, given, cure_min, travel, metres_per_min)
    open_days = np.flatnonzero(works.any(axis=0))
    routes = {key: list(crew_day.promised) for key, crew_day in given.items()}
    blocks = [open_days[at : at + _BLOCK_DAYS] for at in range(0, len(open_days), _BLOCK_DAYS)]
    for block in blocks:
        if not left.any():
            break
        vehicles = [(team, int(day)) for day in block for team in range(len(teams)) if works[team, day]]
        offered = _offered(board, left, vehicles, block)
        if not len(offered):
            continue
        told(int(visits.cores[~left].sum()))
        problem = _problem(board, offered, vehicles, block)
        for vehicle, order in enumerate(solve_routes(problem, iterations, seed)):
            if order:
                left[offered[order]] = False
                routes.setdefault(vehicles[vehicle], []).extend(offered[order].tolist())
    made = [(key, visited) for key, visited in sorted(routes.items(), key=lambda one: one[0][::-1]) if visited]
    return _routes(board, made)


def _routes(board: _Board, made: list[tuple[tuple[int, int], list[int]]]) -> list[Route]:
    """Return the visits of each crew's day as a route; the distances of all of them are asked for at once."""
    yards = [board.teams[team].place for (team, _), _ in made]
    leave = [np.array([yard, *board.visits.exit[visited]]) for yard, (_, visited) in zip(yards, made, strict=True)]
    reach = [np.array([*board.visits.entry[visited], yard]) for yard, (_, visited) in zip(yards, made, strict=True)]
    none = np.empty(0, dtype=np.int64)
    hops = board.travel.between(np.concatenate([none, *leave]), np.concatenate([none, *reach]))
    ends = np.cumsum([len(one) for one in leave])
    return [
        Route(*key, visited, own) for (key, visited), own in zip(made, np.split(hops, ends)[: len(made)], strict=True)
    ]


def whole_day(team: Team, day: int) -> CrewDay:
    """Return a crew's day without promised visits."""
    start, end = team.hours_on(day)
    return CrewDay([], team.place, end - start - (team.crew.break_min or 0.0), team.crew.carries_kg)


def _crew_day(board: _Board, team: int, day: int) -> CrewDay:
    return board.crew_days.get((team, day), whole_day(board.teams[team], day))


def _offered(board: _Board, left: Bools, vehicles: list[tuple[int, int]], block: Ints) -> Ints:
    """Return the visits offered to a block: those that it costs most to put off, and those beside them."""
    visits = board.visits
    able = np.flatnonzero(left & board.visits.fits.any(axis=1) & visits.allowed[:, block].any(axis=1))
    room = sum(_crew_day(board, team, day).minutes for team, day in vehicles)
    work = np.maximum(_work_min(board, able, block).mean(axis=1), _LEAST_VISIT_MIN)
    if work.sum() <= room * _OFFERED:
        return able
    urgent = _prize(visits, able, block) - visits.late[able][:, block].min(axis=1)
    order = np.lexsort((able, -urgent / work))
    first = order[np.cumsum(work[order]) <= room]
    rest = order[len(first) :]
    if not len(first):
        return able[order[:1]]
    xy = board.travel.xy[visits.entry]
    apart = cKDTree(xy[able[first]]).query(xy[able[rest]])[0]
    near = rest[np.argsort(apart, kind="stable")]
    near = near[np.cumsum(work[near]) <= room * (_OFFERED - 1)]
    return np.sort(able[np.concatenate([first, near])])


def _prize(visits: Visits, offered: Ints, block: Ints) -> Floats:
    """Return the minutes that it costs to leave visits out of a block: they are then done a week later, or never."""
    after, last = int(block[-1]) + PUT_OFF_DAYS, visits.late.shape[1] - 1
    prize: Floats = visits.late[offered, min(after, last)] + LEFT_OUT_MIN * visits.cores[offered]
    return prize


def _work_min(board: _Board, offered: Ints, days: Ints) -> Floats:
    """Return the minutes that the crew is at each visit on each of some days, with its wait for traffic."""
    waited = board.visits.pressed_min[offered, None] + board.cure_min[None, days]
    minutes: Floats = np.fmax(board.visits.worked_min[offered, None], waited)
    return minutes


def _problem(board: _Board, offered: Ints, vehicles: list[tuple[int, int]], block: Ints) -> Problem:
    visits = board.visits
    team = np.array([one for one, _ in vehicles])
    day = np.array([one for _, one in vehicles])
    rooms = [_crew_day(board, *vehicle) for vehicle in vehicles]
    begun = [at for at, room in enumerate(rooms) if room.promised]
    start = team.copy()
    start[begun] = len(board.teams) + np.arange(len(begun))
    places = np.array([one.place for one in board.teams] + [rooms[at].place for at in begun])
    leave = np.concatenate([places, visits.exit[offered]])
    reach = np.concatenate([places, visits.entry[offered]])
    return Problem(
        prize=_prize(visits, offered, block),
        late=visits.late[offered][:, day],
        may=visits.allowed[offered][:, day] & board.visits.fits[offered][:, team],
        work=_work_min(board, offered, day),
        load_kg=visits.load_kg[offered],
        shift=np.array([room.minutes for room in rooms]),
        carries_kg=np.array([room.carries_kg for room in rooms]),
        start=start,
        end=team,
        travel=board.travel.metres(leave, reach) / board.metres_per_min,
        day_cost=np.where([bool(room.promised) for room in rooms], 0.0, DAY_MIN),
    )
