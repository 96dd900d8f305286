"""What is reported of a plan beside its tables."""

import numpy as np
import pandas as pd

from pipeline.plan.crews import Team
from pipeline.plan.notices import plan_notices
from pipeline.plan.weather import Supplier, curing_of
from pipeline.programme.plan import Crew

_DAYS = np.array(["2026-10-01", "2026-10-02"], dtype="datetime64[D]")
_CURING = curing_of(_DAYS, None, Supplier(30, 20, 0, 5))
_JOBS = pd.DataFrame(
    {"core_id": [], "task": [], "urgency": [], "booked_on": pd.to_datetime([]), "due_on": pd.to_datetime([])}
)
_STOPS = pd.DataFrame({"core_id": [], "needs_permit": np.array([], dtype=bool), "day": pd.to_datetime([])})
_WORKS = np.array([[True, True]])


def _team(districts=("Mill Bank",), origin="programme"):
    return Team(Crew(name="A"), districts, "yard", (0.0, 0.0), "yard", origin, 0)


def _notices(jobs=_JOBS, stops=_STOPS, teams=None, works=_WORKS, curing=_CURING, crowded=None, *, has_weather=False):
    crowded = jobs.index if crowded is None else pd.Index(crowded)
    teams = [_team()] if teams is None else teams
    return plan_notices(jobs, stops, teams, works, _DAYS, curing, crowded, has_weather=has_weather)


def test_a_plan_without_surprises_reports_nothing():
    assert _notices() == []


def test_a_crew_that_never_works_is_reported():
    (notice,) = _notices(works=np.array([[False, False]]))
    assert notice == (
        'crews "A": it has no working day in the plan (2026-10-01 to 2026-10-02). Check its days_off, or set a longer '
        "plan.horizon."
    )


def test_a_crew_without_work_is_reported_where_the_programme_states_it():
    (notice,) = _notices(teams=[_team(districts=())])
    assert notice == 'crews "A": there is no work in its districts, so nothing is planned for it.'
    assert _notices(teams=[_team(districts=(), origin="default")]) == []


def test_moved_booked_days_are_counted():
    days = pd.to_datetime(["2026-10-01", "2026-10-02", "2026-09-20"])
    due = pd.to_datetime(["2026-10-02", "2026-10-02", "2026-09-25"])
    jobs = pd.DataFrame({"core_id": "C", "task": "reinstate", "urgency": None, "booked_on": days, "due_on": due})
    assert _notices(jobs=jobs)[0].startswith(
        "1 core booked for a day on which no crew works: moved to the next working day."
    )


def test_booked_days_that_are_not_kept_are_listed():
    """Booked for the 1st: planned for that day, a day late, and not planned."""
    booked = pd.to_datetime(["2026-10-01"] * 3)
    jobs = pd.DataFrame(
        {"core_id": ["C0", "C1", "C2"], "task": "reinstate", "urgency": None, "booked_on": booked, "due_on": booked}
    )
    stops = pd.DataFrame({"core_id": ["C0", "C1"], "needs_permit": False, "day": _DAYS})
    (notice,) = _notices(jobs=jobs, stops=stops)
    assert notice == (
        "2 booked cores of 3 are not planned for their day: the crews have no room. Tell whoever was promised "
        "the booked day, or set plan.weights.booked higher. C1, C2."
    )
    assert _notices(jobs=jobs.iloc[:1], stops=stops) == []
    room, other = _notices(jobs=jobs, stops=stops, crowded=[1])
    assert room.startswith("1 booked core of 3 is not planned for its day: the crews have no room.")
    assert room.endswith("set plan.weights.booked higher. C1.")
    assert other == (
        "1 booked core of 3 is not planned for its day: no crew can do the work then (too cold or warm for grout, "
        "plan.no_work, or no crew for its district, surface or load). Tell whoever was promised the booked day. C2."
    )


def test_permits_that_run_out_before_the_planned_day_are_listed():
    stops = pd.DataFrame(
        {
            "core_id": [f"C{n}" for n in range(8)],
            "needs_permit": [True] * 7 + [False],
            "day": pd.Timestamp("2026-10-01"),
        }
    )
    assert _notices(stops=stops) == [
        "7 planned cores: the permit expires before the planned day. Extend it first. C0, C1, C2, C3, C4 and 2 more."
    ]


def test_a_hazard_that_is_booked_for_later_is_to_be_made_safe_until_then():
    jobs = pd.DataFrame(
        {
            "core_id": ["C1", "C2", "C3"],
            "task": "reinstate",
            "urgency": ["hazard", "hazard", None],
            "booked_on": pd.to_datetime(["2026-10-02", "2026-10-01", "2026-10-02"]),
        }
    )
    jobs["due_on"] = jobs["booked_on"]
    stops = jobs[["core_id"]].assign(needs_permit=False, day=jobs["booked_on"])
    (notice,) = _notices(jobs=jobs, stops=stops)
    assert notice.startswith("1 core with a hazard booked for a later day: make each safe until then")
    assert notice.endswith(" C1.")


def test_days_too_cold_days_with_fewer_hours_and_days_without_temperatures_are_reported():
    curing = _CURING._replace(
        pours=np.array([False, True]), first_min=np.array([0.0, 600.0]), air_from=("forecast", "not known")
    )
    cold, shorter, unknown = _notices(curing=curing, has_weather=True)
    assert cold == (
        "No grout is planned on 1 working day: the air temperature is outside the limits of the grout. 2026-10-01."
    )
    assert shorter == "On 1 working day grout is poured only in the hours within its temperature limits. 2026-10-02."
    assert unknown.startswith("No temperatures on 1 of 2 working days: the supplier's time to traffic")


def test_a_forecast_that_reaches_no_day_of_the_plan_is_reported():
    """Without any table there is nothing to report; one of another year is there and does not help."""
    assert _notices() == []
    (notice,) = _notices(has_weather=True)
    assert notice.startswith("No temperatures on 2 of 2 working days: the supplier's time to traffic")
