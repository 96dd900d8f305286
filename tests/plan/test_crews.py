"""The crews in force, their working days, and where their days begin."""

import datetime as dt

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from pipeline.plan.crews import crew_table, horizon, shift_of, teams_of, with_hours, working
from pipeline.programme.orders import Ordering
from pipeline.programme.plan import WEEKDAYS, Crew, Planning
from pipeline.workdays import Calendar

_JOBS = pd.DataFrame(
    {
        "district": ["Mill Bank", "Old Market", "Mill Bank"],
        "surface": ["asphalt", "concrete", "asphalt"],
        "x_m": [0.0, 500.0, 100.0],
        "y_m": 0.0,
    }
)
_ORDERING = Ordering(yards={"Mill Bank": "North yard"})


def _teams(*crews, yards=None):
    return teams_of([Crew.model_validate(crew) for crew in crews], _JOBS, _ORDERING, yards or {}, 30.0)


def test_without_crews_each_district_with_work_has_one():
    teams = _teams()
    assert [(team.crew.name, team.districts, team.origin) for team in teams] == [
        ("Mill Bank crew", ("Mill Bank",), "default"),
        ("Old Market crew", ("Old Market",), "default"),
    ]
    assert [team.yard for team in teams] == ["North yard", "Old Market"]
    # the median of 0 and 100
    assert teams[0].start == (50.0, 0.0)
    assert teams[0].starts_from == "middle of its cores"


def test_a_crew_starts_from_its_own_yard_or_that_of_its_first_district():
    yards = {"north yard": (7.0, 8.0), "Depot": (1.0, 2.0)}
    first, second = _teams({"name": "A", "districts": ["mill bank"]}, {"name": "B", "yard": "Depot"}, yards=yards)
    assert (first.start, first.starts_from) == ((7.0, 8.0), "North yard")
    assert (second.start, second.districts) == ((1.0, 2.0), ("Mill Bank", "Old Market"))


def test_breaks_and_surfaces_are_filled_in():
    first, second = _teams({"name": "A", "surfaces": ["ASPHALT", "tar"]}, {"name": "B", "break": "45 min"})
    assert (first.crew.break_min, first.crew.surfaces) == (30.0, ["asphalt", "tar"])
    assert second.crew.break_min == 45.0


def test_a_crew_whose_districts_have_no_work_has_no_districts():
    assert _teams({"name": "A", "districts": ["Elsewhere"]})[0].districts == ()


def test_the_plan_begins_the_day_after_the_audit_or_when_the_programme_says():
    first = Planning().first_day(dt.date(2026, 9, 30))
    assert horizon(first, 3).astype(str).tolist() == ["2026-10-01", "2026-10-02", "2026-10-03"]
    assert Planning(start=dt.date(2026, 10, 12)).first_day(dt.date(2026, 9, 30)) == dt.date(2026, 10, 12)


def test_a_plan_never_begins_on_or_before_the_day_of_the_audit():
    assert Planning(start=dt.date(2026, 9, 1)).first_day(dt.date(2026, 9, 30)) == dt.date(2026, 10, 1)


def test_days_off_weekdays_dates_and_holidays_are_no_working_days():
    """Monday 12 October 2026 is Thanksgiving in Ontario."""
    days = np.arange("2026-10-09", "2026-10-17", dtype="datetime64[D]")
    crew = Crew.model_validate({"name": "A", "days_off": ["sunday", "Wednesday", dt.date(2026, 10, 16)]})
    assert days[working(crew, days, Calendar("CA-ON"))].astype(str).tolist() == [
        "2026-10-09", "2026-10-10", "2026-10-13", "2026-10-15",
    ]  # fmt: skip


def test_a_crew_that_is_off_every_day_never_works():
    days = np.arange("2026-10-09", "2026-10-17", dtype="datetime64[D]")
    assert not working(Crew.model_validate({"name": "A", "days_off": list(WEEKDAYS)}), days, None).any()


@given(st.sets(st.sampled_from(WEEKDAYS)), st.dates(dt.date(2000, 1, 1), dt.date(2100, 1, 1)))
def test_nobody_ever_works_on_a_weekday_that_is_off(off, first):
    days = np.datetime64(first) + np.arange(30)
    worked = days[working(Crew(name="A", days_off=sorted(off)), days, None)]
    assert {day.item().strftime("%A") for day in worked} == set(WEEKDAYS) - off


def test_somebody_works_from_the_first_begin_to_the_last_end():
    crews = [Crew.model_validate({"name": name, "shift": shift}) for name, shift in (
        ("A", ["06:30", "14:00"]), ("B", ["09:00", "18:00"]),
    )]  # fmt: skip
    assert shift_of(crews) == (390.0, 1080.0)
    assert shift_of([]) == (420.0, 930.0)


def test_on_a_cold_morning_a_crew_begins_later_and_ends_no_later_than_the_last_pour_cures():
    """A shift from 07:00 to 15:30; by day: no limit, pours from 11:00, pours until 13:00, and none before the end."""
    (team,) = _teams({"name": "A"})
    assert team.hours_on(0) == (420.0, 930.0)
    own = with_hours(team, np.array([-20.0, 660.0, 0.0, 990.0]), np.array([1440.0, 1440.0, 780.0, 1440.0]))
    assert [own.hours_on(day) for day in range(4)] == [(420.0, 930.0), (660.0, 930.0), (420.0, 780.0), (930.0, 930.0)]


def test_the_table_has_a_row_per_crew():
    teams = _teams({"name": "A", "surfaces": ["asphalt", "concrete"]})
    table = crew_table(teams, np.array([[True, False]]), np.array([-82.0]), np.array([44.0]))
    assert table.iloc[0][["districts", "surfaces", "work_days", "break_min"]].tolist() == [
        "Mill Bank; Old Market", "asphalt; concrete", 1, 30.0,
    ]  # fmt: skip
