"""Tests of which crew days get sheets."""

from dataclasses import replace

import pandas as pd

from pipeline.publish.plan.day_stops import sheet_days, stops_by_day
from tests.publish.plan.small_plan import small_plan


def _on(*days):
    """Return a plan of one stop on each day, the crews by the last letters of the alphabet first."""
    result = small_plan()
    stops = result.plan.stops.assign(crew=["Z", "Y", "X"], day=pd.to_datetime(list(days)), stop=1)
    table = result.plan.days.iloc[[0] * 3].assign(crew=["Z", "Y", "X"], day=pd.to_datetime(list(days)))
    return replace(result, plan=result.plan._replace(stops=stops, days=table))


def test_the_first_fourteen_days_get_sheets_by_day_and_crew():
    days = sheet_days(_on("2026-10-14", "2026-10-01", "2026-10-15"))
    assert days["crew"].tolist() == ["Y", "Z"]


def test_the_stops_of_these_days_and_no_others_are_returned():
    found = stops_by_day(_on("2026-10-01", "2026-10-14", "2026-10-15"))
    assert [crew for crew, _ in found] == ["Y", "Z"]
    assert {len(stops) for stops in found.values()} == {1}
    assert {"permit_no", "x_m", "arrival_min", "cautions"} <= set(found["Z", pd.Timestamp(2026, 10, 1)][0])


def test_a_plan_without_work_has_no_days():
    result = small_plan()
    empty = replace(result, plan=result.plan._replace(stops=result.plan.stops.iloc[:0], days=result.plan.days.iloc[:0]))
    assert sheet_days(empty).empty
    assert stops_by_day(empty) == {}
    untyped = pd.DataFrame(columns=result.plan.stops.columns)
    assert stops_by_day(replace(empty, plan=empty.plan._replace(stops=untyped))) == {}
