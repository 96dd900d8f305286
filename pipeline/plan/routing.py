"""Routes for the days of a few crews, by a routing library: the adapter between our visits and its problem."""

from typing import Any, Final, NamedTuple

import numpy as np

from pipeline.plan.crews import Bools
from pipeline.plan.travel import Floats, Ints

__all__ = ["Problem", "solve_routes"]

# longer than any day, and dearer than any prize
_FAR: Final = 10**8
_SECONDS: Final = 60


class Problem(NamedTuple):
    """Visits to be made on some days of some crews.

    Minutes throughout: V vehicles (a crew's day each), N visits. ``prize``: what leaving a visit out costs. ``late``:
    N by V, what making it on that vehicle's day costs. ``may``: N by V, whether that vehicle may. ``work``: N by V, how
    long it takes. ``load_kg``: of each visit. ``shift``: V minutes of work. ``carries_kg``: V. ``start``: V numbers of
    the place each vehicle starts from. ``travel``: S + N by S + N minutes, the S starts first. ``day_cost``: of using
    a vehicle at all.
    """

    prize: Floats
    late: Floats
    may: Bools
    work: Floats
    load_kg: Floats
    shift: Floats
    carries_kg: Floats
    start: Ints
    travel: Floats
    day_cost: float


def solve_routes(problem: Problem, iterations: int, seed: int) -> list[list[int]]:
    """Return the visits of each vehicle in their order; visits in none of them are left out.

    The search is seeded and ends after a number of iterations, so that the same problem gives the same routes.
    """
    import pyvrp  # noqa: PLC0415 - only a plan needs it
    from pyvrp.stop import MaxIterations  # noqa: PLC0415

    starts, count = int(problem.start.max()) + 1, len(problem.prize)
    seconds = np.rint(problem.travel * _SECONDS).astype(np.int64)
    costs: list[Any] = []
    durations: list[Any] = []
    for vehicle in range(len(problem.shift)):
        cost, duration = seconds.copy(), seconds.copy()
        late = np.where(problem.may[:, vehicle], np.rint(problem.late[:, vehicle] * _SECONDS), _FAR).astype(np.int64)
        cost[:, starts:] += late
        duration[:, starts:] += np.rint(problem.work[:, vehicle] * _SECONDS).astype(np.int64)
        np.fill_diagonal(cost, 0)
        np.fill_diagonal(duration, 0)
        costs.append(cost)
        durations.append(duration)
    data = pyvrp.ProblemData(
        locations=[pyvrp.Location(0, 0) for _ in range(starts + count)],
        clients=[
            pyvrp.Client(
                location=starts + at,
                delivery=[int(np.ceil(problem.load_kg[at]))],
                prize=int(problem.prize[at] * _SECONDS),
                required=False,
            )
            for at in range(count)
        ],
        depots=[pyvrp.Depot(location=at) for at in range(starts)],
        vehicle_types=[
            pyvrp.VehicleType(
                capacity=[int(problem.carries_kg[at])],
                start_depot=int(problem.start[at]),
                end_depot=int(problem.start[at]),
                fixed_cost=int(problem.day_cost * _SECONDS),
                shift_duration=int(problem.shift[at] * _SECONDS),
                profile=at,
            )
            for at in range(len(problem.shift))
        ],
        distance_matrices=costs,
        duration_matrices=durations,
    )
    found = pyvrp.solve(data, MaxIterations(iterations), seed=seed, collect_stats=False, display=False).best
    routes: list[list[int]] = [[] for _ in problem.shift]
    if found.is_feasible():
        for route in found.routes():
            routes[route.vehicle_type()] = _visits(route)
    return routes


def _visits(route: Any) -> list[int]:  # noqa: ANN401 - the library is imported only when a plan is made
    return [activity.idx for activity in route if activity.is_client()]
