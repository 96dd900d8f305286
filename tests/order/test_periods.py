"""When a core is to go back, and which period that is."""

import datetime as dt

import pandas as pd
import pytest

from pipeline.contracts import NO_DATE
from pipeline.order.periods import plan_cores
from pipeline.programme.orders import Ordering

_AS_OF = dt.date(2026, 9, 30)  # a Wednesday of week 40


def _cores(planned=None, opened=None, allowed=30.0, district="A", count=1):
    def instants(day):
        return pd.Series(pd.to_datetime([day] * count)).dt.tz_localize("UTC").astype("datetime64[us, UTC]")

    return pd.DataFrame(
        {
            "planned_on": instants(planned), "opened_on": instants(opened), "allowed_days": allowed, "district": district,
            "segment_id": "S1", "chainage_m": [float(place) for place in range(count)], "row": range(1, count + 1),
        }
    )  # fmt: skip


@pytest.mark.parametrize(
    ("planned", "opened", "day", "by"),
    [
        ("2026-10-07", "2026-09-01", "2026-10-07", "plan"),
        ("2026-09-07", "2026-09-01", "2026-09-30", "plan"),  # missed: at once
        (None, "2026-09-10", "2026-10-10", "due date"),
        (None, "2026-07-01", "2026-09-30", "due date"),  # overdue: at once
        (None, None, None, "no date"),
    ],
)
def test_a_plan_comes_before_the_day_it_falls_due_and_what_is_late_is_due_at_once(planned, opened, day, by):
    found = plan_cores(_cores(planned, opened), Ordering(), _AS_OF).iloc[0]
    assert found["planned_by"] == by
    assert (None if pd.isna(found["day"]) else found["day"].strftime("%Y-%m-%d")) == day


@pytest.mark.parametrize(
    ("period", "day", "name", "start"),
    [
        ("week", "2026-10-05", "2026-W41", "2026-10-05"),
        ("week", "2026-10-11", "2026-W41", "2026-10-05"),
        # ISO 8601: 1 January 2027 is a Friday of the last week of 2026
        ("week", "2027-01-01", "2026-W53", "2026-12-28"),
        ("month", "2026-10-31", "2026-10", "2026-10-01"),
        ("all", "2026-10-31", "all", "2026-09-30"),
    ],
)
def test_weeks_are_those_of_iso_8601(period, day, name, start):
    found = plan_cores(_cores(day), Ordering(period=period), _AS_OF).iloc[0]
    assert (found["period"], found["period_start"].strftime("%Y-%m-%d")) == (name, start)


def test_without_a_date_and_a_rate_there_is_no_date():
    assert plan_cores(_cores(), Ordering(), _AS_OF)["period"].tolist() == [NO_DATE]


def test_a_level_plan_fills_the_weeks_at_the_stated_rate_street_by_street():
    found = plan_cores(_cores(count=5), Ordering(cores_per_week=2), _AS_OF)
    assert found["period"].tolist() == ["2026-W40", "2026-W40", "2026-W41", "2026-W41", "2026-W42"]
    assert set(found["planned_by"]) == {"levelled schedule"}


def test_a_level_plan_leaves_room_for_the_cores_that_have_a_date():
    dated = _cores("2026-10-01", count=2)
    undated = _cores(count=3)
    cores = pd.concat([dated, undated], ignore_index=True)
    found = plan_cores(cores, Ordering(cores_per_week=2), _AS_OF)
    assert found["period"].tolist()[2:] == ["2026-W41", "2026-W41", "2026-W42"]


def test_a_rate_may_differ_by_district_and_be_no_whole_number():
    cores = pd.concat([_cores(count=3), _cores(count=3, district="B")], ignore_index=True)
    found = plan_cores(cores, Ordering(cores_per_week=1, cores_per_week_by_district={"B": 1.5}), _AS_OF)
    assert found["period"].tolist() == ["2026-W40", "2026-W41", "2026-W42", "2026-W40", "2026-W41", "2026-W41"]


def test_a_year_without_dates_is_more_than_no_cores():
    assert plan_cores(_cores(count=0), Ordering(cores_per_week=1), _AS_OF).empty
