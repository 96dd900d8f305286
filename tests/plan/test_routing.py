from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.plan.routing import Problem, _profiles, cost_of, minutes_on, solve_routes

ITERATIONS = 50


def problem(at_km: list[float], *, vehicles: int = 1, shift: float = 480.0, **given: object) -> Problem:
    """Return visits along one road from a yard at its begin: a minute for each km, and half an hour for each visit.

    yard 0 ----- visit 0 ----- visit 1 ...
    """
    at = np.array([0.0, *at_km])
    count = len(at_km)
    usual = Problem(
        prize=np.full(count, 1000.0),
        late=np.zeros((count, vehicles)),
        may=np.ones((count, vehicles), dtype=bool),
        work=np.full((count, vehicles), 30.0),
        load_kg=np.full(count, 100.0),
        shift=np.full(vehicles, shift),
        carries_kg=np.full(vehicles, 1000.0),
        start=np.zeros(vehicles, dtype=np.int64),
        end=np.zeros(vehicles, dtype=np.int64),
        travel=np.abs(at[:, None] - at[None, :]),
        day_cost=np.full(vehicles, 60.0),
    )
    return usual._replace(**given)


def test_visits_along_a_road_are_made_without_going_back_and_forth() -> None:
    # 10, 20, 30 km: out and back is 60 min on the road, whichever way round
    (route,) = solve_routes(problem([20.0, 10.0, 30.0]), ITERATIONS, 1)
    assert sorted(route) == [0, 1, 2]
    assert minutes_on(problem([20.0, 10.0, 30.0]), 0, route) == 60.0 + 3 * 30.0


def test_the_visit_worth_least_is_left_out_of_a_full_day() -> None:
    # two visits at 10 km: 20 min on the road and 60 of work; the third would make it 110
    full = problem([10.0, 10.0, 10.0], shift=100.0, prize=np.array([500.0, 100.0, 500.0]))
    assert sorted(solve_routes(full, ITERATIONS, 1)[0]) == [0, 2]


def test_a_day_may_be_filled_to_the_minute() -> None:
    assert sorted(solve_routes(problem([10.0, 10.0], shift=80.0), ITERATIONS, 1)[0]) == [0, 1]
    assert len(solve_routes(problem([10.0, 10.0], shift=79.0), ITERATIONS, 1)[0]) == 1


def test_a_truck_is_not_overloaded() -> None:
    heavy = problem([1.0, 2.0, 3.0], load_kg=np.array([400.2, 400.2, 400.2]), carries_kg=np.array([800.9]))
    assert len(solve_routes(heavy, ITERATIONS, 1)[0]) == 1


def test_a_visit_is_made_only_by_a_vehicle_that_may_and_on_the_cheapest_day() -> None:
    may = np.array([[True, False], [True, True]])
    late = np.array([[0.0, 0.0], [200.0, 0.0]])
    routes = solve_routes(problem([5.0, 6.0], vehicles=2, may=may, late=late), ITERATIONS, 1)
    assert routes == [[0], [1]]


def test_what_no_vehicle_may_visit_is_left_out_however_little_that_costs_and_however_far_it_is() -> None:
    barred = problem([10.0, 400.0], shift=2000.0, prize=np.array([500.0, 1.0]), may=np.array([[True], [False]]))
    assert solve_routes(barred, ITERATIONS, 1) == [[0]]


def test_a_day_late_that_costs_less_than_a_crew_day_saves_the_day() -> None:
    late = np.array([[0.0, 0.0], [40.0, 0.0]])
    routes = solve_routes(problem([5.0, 5.0], vehicles=2, late=late), ITERATIONS, 1)
    assert sorted(sorted(route) for route in routes) == [[], [0, 1]]


def test_a_day_that_begins_at_a_promised_stop_goes_on_from_there() -> None:
    # start at 30 km, end at the yard: the way home leads past 20 and 10
    places = np.array([0.0, 30.0, 10.0, 20.0])
    begun = problem(
        [10.0, 20.0], start=np.array([1]), end=np.array([0]), travel=np.abs(places[:, None] - places[None, :])
    )
    assert solve_routes(begun, ITERATIONS, 1) == [[1, 0]]
    assert minutes_on(begun, 0, [1, 0]) == 30.0 + 60.0


def test_the_cost_of_routes_is_lateness_travel_days_and_what_is_left_out() -> None:
    late = np.array([[5.0, 0.0], [0.0, 7.0], [0.0, 0.0]])
    made = problem([10.0, 20.0, 30.0], vehicles=2, late=late, prize=np.array([1.0, 2.0, 400.0]))
    # vehicle 0: 10 km and back, 5 late, a day; vehicle 1: 20 km and back, 7 late, a day; 400 for the third
    assert cost_of(made, [[0], [1]]) == (20.0 + 5.0 + 60.0) + (40.0 + 7.0 + 60.0) + 400.0
    assert cost_of(made, [[], []]) == 403.0


def test_nothing_to_do_is_an_empty_day() -> None:
    assert solve_routes(problem([], vehicles=2), ITERATIONS, 1) == [[], []]


def test_the_same_problem_gives_the_same_routes() -> None:
    rng = np.random.default_rng(5)
    many = problem(rng.uniform(1, 60, 25).tolist(), vehicles=3)
    assert solve_routes(many, ITERATIONS, 7) == solve_routes(many, ITERATIONS, 7)


@settings(max_examples=25, deadline=None)
@given(
    at_km=st.lists(st.floats(0.001, 40.0), min_size=1, max_size=8),
    shift=st.floats(30.0, 300.0),
    carries=st.floats(50.0, 500.0),
    iterations=st.sampled_from([1, 5, 20]),
)
def test_no_route_is_too_long_or_too_heavy_however_short_the_search(
    at_km: list[float], shift: float, carries: float, iterations: int
) -> None:
    work = np.array([[10.0 + km / 7, 10.0 + km / 9] for km in at_km])
    drawn = problem(at_km, vehicles=2, shift=shift, work=work, carries_kg=np.full(2, carries))
    routes = solve_routes(drawn, iterations, 1)
    visits = [visit for route in routes for visit in route]
    assert len(visits) == len(set(visits))
    for vehicle, route in enumerate(routes):
        if route:
            assert minutes_on(drawn, vehicle, route) <= shift
            assert drawn.load_kg[route].sum() <= carries


@pytest.mark.parametrize("horizon_days", [182, 3650])
def test_a_visit_that_may_not_be_made_is_left_out_however_much_it_is_worth(horizon_days: int) -> None:
    prize = np.array([960.0 * horizon_days])
    routes = solve_routes(problem([1.0], may=np.array([[False]]), prize=prize), ITERATIONS, 1)
    assert routes == [[]]


def least_cost(given: Problem) -> float:
    """Return the cost of the best routes: for each vehicle the best order of each set of visits, then the best sets."""
    count = len(given.prize)
    sets = [[at for at in range(count) if number >> at & 1] for number in range(2**count)]
    best = {0: 0.0}
    for vehicle in range(len(given.shift)):
        costs = {0: 0.0}
        for number, visits in enumerate(sets[1:], 1):
            ways = [
                list(way) for way in permutations(visits) if minutes_on(given, vehicle, list(way)) <= given.shift[0]
            ]
            if ways and given.may[visits, vehicle].all() and given.load_kg[visits].sum() <= given.carries_kg[vehicle]:
                routes = [[] if at != vehicle else ways[0] for at in range(len(given.shift))]
                left = given.prize.sum() - given.prize[visits].sum()
                shortest = min(minutes_on(given, vehicle, way) for way in ways)
                costs[number] = cost_of(given, routes) - left - minutes_on(given, vehicle, ways[0]) + shortest
        best = {
            both: min(best[done] + costs[both ^ done] for done in best if done | both == both and both ^ done in costs)
            for both in {done | more for done in best for more in costs if not done & more}
        }
    return min(
        cost + given.prize[[at for at in range(count) if at not in sets[done]]].sum() for done, cost in best.items()
    )


@pytest.mark.parametrize("seed", range(6))
def test_routes_of_few_visits_are_the_best_of_all(seed: int) -> None:
    # five visits, two crews on two days; each crew starts at its own yard, and the truck takes three visits
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0, 40, (7, 2))
    travel = np.round(np.hypot(*(xy[:, None] - xy[None, :]).transpose(2, 0, 1)))
    late = np.round(rng.uniform(0, 100, (5, 1)) * np.array([0.0, 0.0, 1.0, 1.0]))
    drawn = Problem(
        prize=np.round(rng.uniform(50, 400, 5)),
        late=late,
        may=rng.uniform(size=(5, 4)) < 0.8,
        work=np.full((5, 4), 60.0),
        load_kg=np.full(5, 300.0),
        shift=np.full(4, 260.0),
        carries_kg=np.full(4, 1000.0),
        start=np.array([0, 1, 0, 1]),
        end=np.array([0, 1, 0, 1]),
        travel=travel,
        day_cost=np.full(4, 60.0),
    )
    assert cost_of(drawn, solve_routes(drawn, 100, 1)) == pytest.approx(least_cost(drawn))


@given(st.lists(st.tuples(*[st.integers(0, 1)] * 3), min_size=1, max_size=8))
def test_vehicles_alike_share_a_profile_and_profiles_are_in_order(days: list[tuple[int, ...]]) -> None:
    """The second method: numpy's own search for the different columns."""
    late, may, work = np.array(days).T[:, None, :]
    given_days = problem([10.0], vehicles=len(days), late=late * 5.0, may=may > 0, work=30.0 + work)
    profile, costs, _ = _profiles(given_days, 1)
    different, wanted = np.unique(np.array(days).T, axis=1, return_inverse=True)
    assert profile.tolist() == wanted.reshape(-1).tolist()
    assert len(costs) == different.shape[1]
