"""Routes for the days of a few crews, by a routing library: the adapter between our visits and its problem.

PyVRP is used. On the demo (10 blocks of days, 134 visits) PyVRP, OR-tools and VROOM find the same cost, in 1 s, 20 s
(its time limit) and 0.4 s. On 2,000 open cores over real streets (34 blocks, 2,394 visits offered) PyVRP makes 1,437 of
them at a cost of 2.39 million crew-minutes in 132 s, OR-tools 1,088 at 2.53 million in 70 s, a limit of 2 s per block;
VROOM, on one thread at its greatest effort, had not finished after six minutes; on the block of 157 visits, at its
least effort, it costs 43 % more than PyVRP in 30 s against 10 s. It makes as many visits as it can before it looks at
their cost, where the plan weighs leaving a visit out against lateness and travel. All on two shared processors, with
PyVRP's search as long as in a plan (``tests/bench/bench_routing.py``).
"""

from typing import Any, Final, NamedTuple

import numpy as np

from pipeline.plan.crews import Bools
from pipeline.plan.travel import Floats, Ints

__all__ = ["Problem", "cost_of", "minutes_on", "solve_routes"]

_SECONDS: Final = 60
# minutes that differ by less than this are the same, so that rounding up adds no second to whole ones
_DIGITS: Final = 6


class Problem(NamedTuple):
    """Visits to be made on some days of some crews.

    Minutes throughout: V vehicles (a crew's day each), N visits. ``prize``: what leaving a visit out costs. ``late``:
    N by V, what making it on that vehicle's day costs. ``may``: N by V, whether that vehicle may. ``work``: N by V, how
    long it takes. ``load_kg``: of each visit. ``shift``: V minutes of work. ``carries_kg``: V. ``start``, ``end``: V
    numbers of the places where each vehicle starts and ends. ``travel``: S + N by S + N minutes, the S places first.
    ``day_cost``: V, of using a vehicle at all.
    """

    prize: Floats
    late: Floats
    may: Bools
    work: Floats
    load_kg: Floats
    shift: Floats
    carries_kg: Floats
    start: Ints
    end: Ints
    travel: Floats
    day_cost: Floats


def solve_routes(problem: Problem, iterations: int, seed: int) -> list[list[int]]:
    """Return the visits of each vehicle in their order; visits in none of them are left out.

    The search is seeded and ends after a number of iterations, so that the same problem gives the same routes.
    """
    import pyvrp  # noqa: PLC0415 - only a plan needs it
    from pyvrp.stop import MaxIterations  # noqa: PLC0415

    if not len(problem.prize):
        return [[] for _ in problem.shift]
    data = _data(pyvrp, problem)
    found = pyvrp.solve(data, MaxIterations(iterations), seed=seed, collect_stats=False, display=False).best
    routes: list[list[int]] = [[] for _ in problem.shift]
    for route in found.routes():
        vehicle = route.vehicle_type()
        visits = [activity.idx for activity in route if activity.is_client()]
        routes[vehicle] = _as_far_as_it_holds(problem, vehicle, visits)
    return routes


def _data(pyvrp: Any, problem: Problem) -> Any:  # noqa: ANN401 - the library is imported only when a plan is made
    """Return the library's problem: whole seconds and kilograms, rounded so that no limit is overstepped."""
    places = len(problem.travel) - len(problem.prize)
    profile, costs, durations = _profiles(problem, places)
    return pyvrp.ProblemData(
        locations=[pyvrp.Location(0, 0) for _ in range(len(problem.travel))],
        clients=[
            pyvrp.Client(location=places + at, delivery=[load], prize=prize, required=False)
            for at, (load, prize) in enumerate(zip(_up(problem.load_kg), _cost(problem.prize), strict=True))
        ],
        depots=[pyvrp.Depot(location=at) for at in range(places)],
        vehicle_types=[
            pyvrp.VehicleType(
                capacity=[int(max(problem.carries_kg[at], 0))],
                start_depot=int(problem.start[at]),
                end_depot=int(problem.end[at]),
                fixed_cost=int(_cost(problem.day_cost)[at]),
                shift_duration=int(max(problem.shift[at], 0) * _SECONDS),
                profile=int(profile[at]),
            )
            for at in range(len(problem.shift))
        ],
        distance_matrices=costs,
        duration_matrices=durations,
    )


def _profiles(problem: Problem, places: int) -> tuple[Ints, list[Ints], list[Ints]]:
    """Return the profile of each vehicle, and the costs and durations of each profile; vehicles alike share one."""
    alike = np.concatenate([problem.late, problem.may, problem.work])
    order, is_new = np.lexsort(alike[::-1]), np.ones(alike.shape[1], dtype=bool)
    is_new[1:] = (alike[:, order[1:]] != alike[:, order[:-1]]).any(axis=0)
    profile = np.empty(len(order), dtype=np.int64)
    profile[order] = np.cumsum(is_new) - 1
    columns = alike[:, order[is_new]]
    late, may, work = np.split(columns, 3)
    cost, seconds = _cost(problem.travel), _up(problem.travel * _SECONDS)
    # dearer than leaving out whatever may be left out
    forbidden = int(_cost(problem.prize).sum()) + int(cost.max(initial=0)) + 1
    costs, durations = [], []
    for at in range(columns.shape[1]):
        by_visit = np.where(may[:, at] > 0, _cost(late[:, at]), forbidden)
        of_visit = _up(work[:, at] * _SECONDS)
        costs.append(_onto(cost, by_visit, places))
        durations.append(_onto(seconds, of_visit, places))
    return profile, costs, durations


def _onto(matrix: Ints, by_visit: Ints, places: int) -> Ints:
    """Return the matrix with what each visit takes added to every way that leads to it."""
    whole = matrix.copy()
    whole[:, places:] += by_visit
    np.fill_diagonal(whole, 0)
    return whole


def _up(values: Floats) -> Ints:
    up: Ints = np.ceil(np.round(values, _DIGITS)).astype(np.int64)
    return up


def _cost(minutes: Floats) -> Ints:
    cost: Ints = np.rint(minutes * _SECONDS).astype(np.int64)
    return cost


def minutes_on(problem: Problem, vehicle: int, visits: list[int]) -> float:
    """Return the minutes of a route: travel from its start to its end, and work."""
    places = len(problem.travel) - len(problem.prize)
    way = [int(problem.start[vehicle]), *(places + at for at in visits), int(problem.end[vehicle])]
    return float(problem.travel[way[:-1], way[1:]].sum() + problem.work[visits, vehicle].sum())


def cost_of(problem: Problem, routes: list[list[int]]) -> float:
    """Return the cost of some routes in minutes: lateness, travel, days used, and what leaving visits out costs."""
    left = np.ones(len(problem.prize), dtype=bool)
    cost = 0.0
    for vehicle, visits in enumerate(routes):
        if not visits:
            continue
        left[visits] = False
        travel = minutes_on(problem, vehicle, visits) - problem.work[visits, vehicle].sum()
        cost += problem.day_cost[vehicle] + problem.late[visits, vehicle].sum() + travel
    return float(cost + problem.prize[left].sum())


def _as_far_as_it_holds(problem: Problem, vehicle: int, visits: list[int]) -> list[int]:
    """Return the visits that the vehicle may make, up to the end of its shift and to what it carries.

    A search that ends early may end with a route that is too long.
    """
    kept = [at for at in visits if problem.may[at, vehicle]]
    while kept and (
        minutes_on(problem, vehicle, kept) > problem.shift[vehicle]
        or problem.load_kg[kept].sum() > problem.carries_kg[vehicle]
    ):
        kept.pop()
    return kept
