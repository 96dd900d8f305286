import numpy as np
import pandas as pd

from pipeline.plan.crews import Bools, Team
from pipeline.plan.schedule import CrewDay, Visits, schedule, shared_jobs, shared_teams
from pipeline.plan.travel import Floats, Travel
from pipeline.programme.plan import Crew

# 1 km in a minute
METRES_PER_MIN = 1000.0


def team(name: str, *districts: str, place: int = 0, **crew: object) -> Team:
    own = Crew.model_validate({"name": name, "shift": ["08:00", "12:30"], "break": "30 min", **crew})
    return Team(own, districts, "yard", (0.0, 0.0), "yard", "programme", place)


def visits(late: list[list[float]], *, work: float = 60.0, crews: int = 1, **given: object) -> Visits:
    """Return visits of an hour, at 1 km, 2 km, 3 km ... along a road from the yard, which is the last place."""
    count, days = np.array(late).shape
    usual = Visits(
        np.full(count, 10.0),
        np.full(count, work),
        np.full(count, np.nan),
        np.ones(count),
        np.arange(count),
        np.arange(count),
        np.array(late),
        np.ones((count, days), dtype=bool),
        np.ones((count, crews), dtype=bool),
    )
    return usual._replace(**given)


def along_a_road(count: int) -> Travel:
    at = [*((number + 1) * 1000.0 for number in range(count)), 0.0]
    return Travel(np.array([[x, 0.0] for x in at]), 1.0)


def made(
    given: Visits, teams: list[Team], works: Bools, promised: dict[tuple[int, int], CrewDay] | None = None
) -> dict[tuple[int, int], list[int]]:
    count, days = given.late.shape
    teams = [one._replace(place=count) for one in teams]
    free: Floats = np.full(days, np.nan)
    routes = schedule(given, teams, works, free, along_a_road(count), METRES_PER_MIN, 50, 1, promised)
    return {(route.team, route.day): route.visits for route in routes}


def every_day(teams: int, days: int) -> Bools:
    return np.ones((teams, days), dtype=bool)


def test_crews_that_share_a_district_are_planned_together() -> None:
    teams = [team("A", "East", "West"), team("B", "North"), team("C", "West", "South"), team("D")]
    assert list(shared_teams(teams)) == [[0, 2], [1]]


def test_crews_that_share_a_district_get_the_jobs_of_all_of_their_districts() -> None:
    teams = [team("A", "East", "West"), team("B", "North"), team("C", "West", "South", "Empty"), team("D")]
    districts = pd.Series(["North", "West", "Nowhere", "East", "North", "South"])
    found = [(together, here.tolist()) for together, here in shared_jobs(teams, districts)]
    assert found == [([0, 2], [1, 3, 5]), ([1], [0, 4])]


def test_what_costs_most_to_put_off_is_done_first() -> None:
    # three of an hour fit into four hours of a day; the others go on the next day
    late = [[0.0, weight, 2 * weight] for weight in (10.0, 500.0, 20.0, 400.0, 300.0)]
    plan = made(visits(late), [team("A", "East")], every_day(1, 3))
    assert sorted(plan[0, 0]) == [1, 3, 4]
    assert sorted(plan[0, 1]) == [0, 2]


def test_nothing_is_done_on_a_day_off_or_on_a_day_that_is_closed() -> None:
    late = [[0.0, 100.0, 200.0, 300.0]] * 2
    allowed = np.array([[True, True, True, True], [True, True, False, True]])
    works = np.array([[False, False, True, True]])
    plan = made(visits(late, allowed=allowed), [team("A", "East")], works)
    assert plan == {(0, 2): [0], (0, 3): [1]}


def test_a_crew_does_only_the_visits_it_is_fit_for() -> None:
    late = [[0.0, 100.0]] * 2
    teams = [team("A", "East"), team("B", "East")]
    plan = made(visits(late, fits=np.array([[True, True], [False, True]])), teams, every_day(2, 2))
    assert all(1 not in route for (crew, _), route in plan.items() if crew == 0)
    assert sorted(visit for route in plan.values() for visit in route) == [0, 1]
    assert made(visits(late, fits=np.zeros((2, 1), dtype=bool)), [team("A", "East")], every_day(1, 2)) == {}


def test_a_mix_across_a_boundary_goes_to_a_crew_that_serves_both_districts() -> None:
    """Two of three hours in East fit into the day of A; the one that reaches into West is for B alone."""
    fits = np.array([[True, True], [False, True], [True, True]])
    teams = [team("A", "East"), team("B", "East", "West")]
    plan = made(visits([[0.0, 100.0]] * 3, fits=fits), teams, np.array([[True, False], [False, True]]))
    assert plan == {(0, 0): [0, 2], (1, 1): [1]}


def test_a_visit_longer_than_any_shift_is_left_out() -> None:
    assert made(visits([[0.0, 10.0]], work=241.0), [team("A", "East")], every_day(1, 2)) == {}


def test_promised_visits_stay_and_the_rest_is_planned_round_them() -> None:
    # of four hours, two are promised at 5 km: one hour is left, and half an hour of it is needed for nothing
    late = [[0.0, 100.0]] * 5
    promised = {(0, 0): CrewDay([4, 3], 3, 240.0 - 5.0 - 60.0 - 1.0 - 60.0, 900.0)}
    plan = made(visits(late), [team("A", "East")], every_day(1, 2), promised)
    assert plan[0, 0][:2] == [4, 3]
    assert len(plan[0, 0]) == 3
    assert sorted(plan[0, 0] + plan[0, 1]) == [0, 1, 2, 3, 4]


def test_a_promised_day_with_nothing_else_to_do_is_still_a_route() -> None:
    promised = {(0, 1): CrewDay([0], 0, 178.0, 990.0)}
    assert made(visits([[0.0, 0.0]]), [team("A", "East")], every_day(1, 2), promised) == {(0, 1): [0]}


def test_the_hops_of_a_route_lead_from_the_yard_and_back_to_it() -> None:
    given = visits([[0.0]] * 2)
    (route,) = schedule(
        given, [team("A", "East", place=2)], every_day(1, 1), np.array([np.nan]), along_a_road(2), METRES_PER_MIN, 50, 1
    )
    assert route.hops_m.sum() == 4000.0
    assert sorted(route.visits) == [0, 1]


def test_before_each_block_of_days_the_cores_planned_so_far_are_reported() -> None:
    """Two crews and five days of four hours: 40 visits of an hour, of which 3 fit into a day, take two blocks."""
    told: list[int] = []
    given = visits([[0.0] * 12] * 40, crews=2, entry=np.zeros(40, dtype=np.int64), exit=np.zeros(40, dtype=np.int64))
    teams = [team("A", "East", place=40), team("B", "East", place=40)]
    free: Floats = np.full(12, np.nan)
    schedule(given, teams, every_day(2, 12), free, along_a_road(40), METRES_PER_MIN, 5, 1, None, told.append)
    assert told == [0, 30]


def test_days_without_anything_to_do_are_passed_over() -> None:
    told: list[int] = []
    allowed = np.array([[False] * 5 + [True] * 5])
    given = visits([[0.0] * 10], allowed=allowed)
    teams, free = [team("A", "East", place=1)], np.full(10, np.nan)
    routes = schedule(given, teams, every_day(1, 10), free, along_a_road(1), METRES_PER_MIN, 5, 1, None, told.append)
    assert told == [0]
    assert [route.day >= 5 for route in routes] == [True]


def test_a_day_on_which_grout_may_be_poured_for_some_hours_only_is_shorter() -> None:
    # from 10:00, of a day that ends at 12:30 with a break of half an hour: two hours, less 2 minutes of travel
    given = visits([[0.0, 100.0]] * 4, work=59.0, entry=np.zeros(4, dtype=np.int64), exit=np.zeros(4, dtype=np.int64))
    late = team("A", "East")._replace(hours=np.array([[600.0, 750.0], [480.0, 750.0]]))
    plan = made(given, [late], every_day(1, 2))
    assert [len(plan[0, 0]), len(plan[0, 1])] == [2, 2]


def test_on_the_last_days_short_visits_are_offered_before_long_ones() -> None:
    """An hour is left: of 56, 56, 25 and 25 minutes, only the two short ones leave but two cores out."""
    given = visits([[0.0]] * 4, entry=np.zeros(4, dtype=np.int64), exit=np.zeros(4, dtype=np.int64))
    given = given._replace(worked_min=np.array([56.0, 56.0, 25.0, 25.0]))
    hour = team("A", "East", shift=["08:00", "09:30"])
    assert sorted(made(given, [hour], every_day(1, 1))[0, 0]) == [2, 3]


def test_what_is_offered_is_weighed_by_the_time_that_the_crew_waits_for_traffic() -> None:
    """Five hours: three visits of 100 minutes with the wait, or four of 70 without; all cost the same to put off."""
    late = [[0.0, 100.0]] * 16
    given = visits(late, entry=np.zeros(16, dtype=np.int64), exit=np.zeros(16, dtype=np.int64))
    given = given._replace(worked_min=np.repeat([60.0, 70.0], 8), pressed_min=np.repeat([55.0, np.nan], 8))
    crew = team("A", "East", shift=["08:00", "13:30"], place=16)
    works = np.array([[True, False]])
    routes = schedule(given, [crew], works, np.array([45.0, 45.0]), along_a_road(16), METRES_PER_MIN, 50, 1)
    assert len(routes[0].visits) == 4
    assert set(routes[0].visits) < set(range(8, 16))
