"""Three routing libraries on the same days of crews: ``python -m tests.bench.bench_routing programme.toml [seconds]``.

Plans the programme, and solves each block of days again with PyVRP as the plan calls it, with OR-tools by guided local
search for the seconds given (5), and with VROOM at its greatest effort. No plan needs the last two, and either is passed
over where it is not installed (``pip install ortools pyvroom``). Prints for each library the cost of the blocks in
crew-minutes beyond the least lateness, the visits made, the lateness, the travel, and the seconds.
"""

import importlib
import importlib.util
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np

import pipeline.planned
import pipeline.run
from pipeline.plan import plan
from pipeline.plan.routing import Problem, cost_of, minutes_on, solve_routes

_SECONDS = 60
# the greatest effort that VROOM has, and the highest priority of a visit
_EFFORT, _HIGHEST = 5, 100


class _PlanMadeError(Exception):
    """Ends a run once its plan is made."""


def blocks_of(path: Path) -> list[tuple[Problem, int, int]]:
    """Return the blocks of days of a programme's plan, each with the iterations and the seed of its search."""
    module, found = sys.modules["pipeline.plan.schedule"], []

    def remember(problem: Problem, iterations: int, seed: int) -> list[list[int]]:
        found.append((problem, iterations, seed))
        return solve_routes(problem, iterations, seed)

    def only_plan(*args: Any, **named: Any) -> None:
        plan(*args, **named)
        raise _PlanMadeError

    module.solve_routes = remember
    pipeline.planned.plan = only_plan
    with suppress(_PlanMadeError):
        pipeline.run.run_programme(path)
    return [block for block in found if len(block[0].prize)]


def _whole(limit: float) -> int:
    """Return a limit as a whole number; a day that has no time left has 0."""
    return max(int(limit), 0)


def solve_by_or_tools(problem: Problem, seconds: float) -> list[list[int]]:
    """Return the routes that OR-tools finds for the same problem, in the same whole seconds."""
    solver: Any = importlib.import_module("ortools.constraint_solver.pywrapcp")
    enums: Any = importlib.import_module("ortools.constraint_solver.routing_enums_pb2")
    places, count, vehicles = len(problem.travel) - len(problem.prize), len(problem.prize), len(problem.shift)
    manager = solver.RoutingIndexManager(len(problem.travel), vehicles, problem.start.tolist(), problem.end.tolist())
    model = solver.RoutingModel(manager)
    cost, lasts = np.rint(problem.travel * _SECONDS).astype(int), np.ceil(problem.travel * _SECONDS).astype(int)
    times = []
    for vehicle in range(vehicles):
        own, takes = cost.copy(), lasts.copy()
        own[:, places:] += np.rint(problem.late[:, vehicle] * _SECONDS).astype(int)
        takes[:, places:] += np.ceil(problem.work[:, vehicle] * _SECONDS).astype(int)
        model.SetArcCostEvaluatorOfVehicle(model.RegisterTransitMatrix(own.tolist()), vehicle)
        times.append(model.RegisterTransitMatrix(takes.tolist()))
        model.SetFixedCostOfVehicle(int(problem.day_cost[vehicle] * _SECONDS), vehicle)
    shifts = [_whole(minutes * _SECONDS) for minutes in problem.shift]
    model.AddDimensionWithVehicleTransitAndCapacity(times, 0, shifts, True, "time")
    load = model.RegisterUnaryTransitVector([0] * places + np.ceil(problem.load_kg).astype(int).tolist())
    model.AddDimensionWithVehicleCapacity(load, 0, [_whole(kg) for kg in problem.carries_kg], True, "load")
    for visit in range(count):
        node = manager.NodeToIndex(places + visit)
        model.AddDisjunction([node], int(problem.prize[visit] * _SECONDS))
        model.VehicleVar(node).SetValues([-1, *np.flatnonzero(problem.may[visit]).tolist()])
    settings = solver.DefaultRoutingSearchParameters()
    settings.first_solution_strategy = enums.FirstSolutionStrategy.PARALLEL_CHEAPEST_INSERTION
    settings.local_search_metaheuristic = enums.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    settings.time_limit.FromMilliseconds(int(seconds * 1000))
    found = model.SolveWithParameters(settings)
    routes: list[list[int]] = []
    for vehicle in range(vehicles):
        at, route = model.Start(vehicle), []
        while found is not None and not model.IsEnd(at):
            at = found.Value(model.NextVar(at))
            if not model.IsEnd(at):
                route.append(manager.IndexToNode(at) - places)
        routes.append(route)
    return routes


def solve_by_vroom(problem: Problem) -> list[list[int]]:
    """Return the routes that VROOM finds for the same problem, in the same whole seconds.

    It makes the visits that it can, those of a higher priority first, whatever they cost: a prize is its priority.
    """
    vroom: Any = importlib.import_module("vroom")
    places, model = len(problem.travel) - len(problem.prize), vroom.Input()
    for vehicle in range(len(problem.shift)):
        cost, lasts = np.rint(problem.travel * _SECONDS), np.ceil(problem.travel * _SECONDS)
        cost[:, places:] += np.rint(problem.late[:, vehicle] * _SECONDS)
        lasts[:, places:] += np.ceil(problem.work[:, vehicle] * _SECONDS)
        for matrix in (cost, lasts):
            np.fill_diagonal(matrix, 0)
        model.set_durations_matrix(str(vehicle), lasts.astype(np.uint32))
        model.set_costs_matrix(str(vehicle), cost.astype(np.uint32))
        model.add_vehicle(
            vroom.Vehicle(
                vehicle,
                start=int(problem.start[vehicle]),
                end=int(problem.end[vehicle]),
                profile=str(vehicle),
                capacity=[_whole(problem.carries_kg[vehicle])],
                skills=set(np.flatnonzero(problem.may[:, vehicle]).tolist()),
                time_window=(0, _whole(problem.shift[vehicle] * _SECONDS)),
                costs=vroom.VehicleCosts(fixed=int(problem.day_cost[vehicle] * _SECONDS)),
            )
        )
    priority = np.rint(problem.prize / max(problem.prize.max(), 1.0) * _HIGHEST).astype(int)
    load = np.ceil(problem.load_kg).astype(int)
    for visit in range(len(problem.prize)):
        # the skill of a visit is its own: the vehicles have it that may make the visit
        needs = vroom.Job(
            visit, places + visit, delivery=[int(load[visit])], skills={visit}, priority=int(priority[visit])
        )
        model.add_job(needs)
    routes: list[list[int]] = [[] for _ in problem.shift]
    steps = model.solve(exploration_level=_EFFORT, nb_threads=1).routes
    for vehicle, kind, visit in zip(steps["vehicle_id"], steps["type"], steps["id"], strict=True):
        if kind == "job":
            routes[int(vehicle)].append(int(visit))
    return routes


def compare(name: str, blocks: list[Problem], solve: Callable[[int], list[list[int]]]) -> None:
    """Solve each block, by its number, and print what the routes come to; a library that is missing is passed over."""
    if importlib.util.find_spec(name.lower().replace("-", "")) is None:
        print(f"{name:<10} is not installed")
        return
    start, rows = time.perf_counter(), []
    for number, block in enumerate(blocks):
        routes = solve(number)
        least = np.where(block.may, block.late, np.inf).min(axis=1)
        made = [(at, vehicle) for vehicle, route in enumerate(routes) for at in route]
        late = sum(block.late[at, vehicle] - least[at] for at, vehicle in made)
        work = sum(block.work[at, vehicle] for at, vehicle in made)
        minutes = sum(minutes_on(block, vehicle, route) for vehicle, route in enumerate(routes) if route)
        rows.append((cost_of(block, routes) - np.minimum(least, block.prize).sum(), len(made), late, minutes - work))
    cost, visits, late, travel = np.sum(rows, axis=0)
    seconds = time.perf_counter() - start
    print(
        f"{name:<10} cost {cost:12,.0f}  visits {visits:6,.0f}  late {late:10,.0f}  travel {travel:8,.0f}  {seconds:7.1f} s"
    )


def main() -> None:
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 5.0
    searches = blocks_of(Path(sys.argv[1]))
    blocks = [problem for problem, _, _ in searches]
    print(f"{len(blocks)} blocks, {sum(len(block.prize) for block in blocks):,} visits offered")
    compare("PyVRP", blocks, lambda number: solve_routes(*searches[number]))
    compare("OR-tools", blocks, lambda number: solve_by_or_tools(blocks[number], seconds))
    compare("VROOM", blocks, lambda number: solve_by_vroom(blocks[number]))


if __name__ == "__main__":
    main()
