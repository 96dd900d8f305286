"""Two routing libraries on the same days of crews: ``python tests/bench/bench_routing.py programme.toml [seconds]``.

Plans the programme, and solves each block of days again with OR-tools (``pip install ortools``, which no plan needs),
by guided local search for the seconds given (5). Prints for each library the cost of the blocks in crew-minutes beyond
the least lateness, the visits made, the lateness, the travel, and the seconds.
"""

import importlib
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

_ITERATIONS = 200
_SECONDS = 60


class _PlanMadeError(Exception):
    """Ends a run once its plan is made."""


def blocks_of(path: Path) -> list[Problem]:
    """Return the blocks of days of a programme's plan."""
    module, found = sys.modules["pipeline.plan.schedule"], []

    def remember(problem: Problem, iterations: int, seed: int) -> list[list[int]]:
        found.append(problem)
        return solve_routes(problem, iterations, seed)

    def only_plan(*args: Any, **named: Any) -> None:
        plan(*args, **named)
        raise _PlanMadeError

    module.solve_routes = remember
    pipeline.planned.plan = only_plan
    with suppress(_PlanMadeError):
        pipeline.run.run_programme(path)
    return [problem for problem in found if len(problem.prize)]


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
    shifts = [int(minutes * _SECONDS) for minutes in problem.shift]
    model.AddDimensionWithVehicleTransitAndCapacity(times, 0, shifts, True, "time")
    load = model.RegisterUnaryTransitVector([0] * places + np.ceil(problem.load_kg).astype(int).tolist())
    model.AddDimensionWithVehicleCapacity(load, 0, problem.carries_kg.astype(int).tolist(), True, "load")
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


def compare(name: str, blocks: list[Problem], solve: Callable[[Problem], list[list[int]]]) -> None:
    """Solve all blocks, and print what that came to."""
    start, rows = time.perf_counter(), []
    for block in blocks:
        routes = solve(block)
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
    blocks = blocks_of(Path(sys.argv[1]))
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 5.0
    print(f"{len(blocks)} blocks, {sum(len(block.prize) for block in blocks):,} visits offered")
    compare("PyVRP", blocks, lambda block: solve_routes(block, _ITERATIONS, 1))
    compare("OR-tools", blocks, lambda block: solve_by_or_tools(block, seconds))


if __name__ == "__main__":
    main()
