"""Tests of the plan as tables."""

from dataclasses import replace

import numpy as np
import pandas as pd

from pipeline.publish.plan.table import PLAN_COLUMNS, clock_times, day_table, not_planned_table, plan_table
from pipeline.publish.tables import as_cells, write_csv
from pipeline.spreadsheet_text import as_written
from tests.publish.plan.small_plan import HOSTILE, planned, small_plan


def test_minutes_are_times_of_the_clock_and_what_is_missing_stays_so():
    # 7 h 5 min, a minute that rounds up to the hour, midnight, and 01:10 of the day after
    times = clock_times(pd.Series([425.0, 479.6, np.nan, 1440.0, 1510.0], index=[4, 3, 2, 1, 0]))
    assert times.index.tolist() == [4, 3, 2, 1, 0]
    assert times.dropna().tolist() == ["07:05", "08:00", "00:00 +1 d", "01:10 +1 d"]
    assert pd.isna(times[2])


def test_the_columns_that_crews_read_come_first_and_the_stops_in_order():
    table = plan_table(small_plan())
    assert (
        ",".join(table.columns[:19])
        == "crew,day,stop,core_id,arrival,street,chainage_m,lon,lat,diameter_mm,depth_mm,weight_kg,shade,bags,mix,water_l,gravel_kg,state,cautions"
    )
    assert tuple(table.columns) == PLAN_COLUMNS
    assert sorted(table["core_id"]) == ["HV-0", "HV-2", "HV-4"]
    keys = list(table[["crew", "day", "stop"]].itertuples(index=False, name=None))
    assert keys == sorted(keys)


def test_a_core_that_nothing_is_mixed_for_has_no_mix_no_bags_and_no_shade():
    result = small_plan()
    stops = result.plan.stops
    first = stops.index[0]
    unmixed = stops.assign(
        mix=stops["mix"].mask(stops.index == first), task=stops["task"].mask(stops.index == first, "survey")
    )
    row = plan_table(_with(result, unmixed)).loc[first]
    assert row[["mix", "bags", "net_bags", "water_l", "shade"]].isna().all()
    assert row["task"] == "survey"


def _with(result, stops):
    return replace(result, plan=result.plan._replace(stops=stops))


def test_traffic_never_returns_before_its_minute_has_passed():
    result = small_plan()
    stops = result.plan.stops.assign(traffic_min=645.01, arrival_min=645.01)
    table = plan_table(_with(result, stops))
    assert set(table["earliest_traffic"]) == {"10:46"}
    assert set(table["arrival"]) == {"10:45"}


def test_bags_of_the_table_are_those_of_the_mixes():
    result = small_plan()
    assert plan_table(result)["bags"].sum() == result.plan.mixes["bags"].sum()


def test_hostile_text_reads_back_as_it_was_written(tmp_path):
    write_csv(as_cells(plan_table(planned(small_plan(), crew=HOSTILE, core_id=HOSTILE))), tmp_path / "plan.csv")
    text = (tmp_path / "plan.csv").read_text("utf-8")
    assert "'=1+1" in text
    read = pd.read_csv(tmp_path / "plan.csv", dtype=str, keep_default_na=False)
    assert set(as_written(read["crew"])) == {HOSTILE}
    assert set(as_written(read["core_id"])) == {HOSTILE}
    assert len(read) == 3


def test_a_day_has_its_times_and_no_minutes():
    result = small_plan()
    days = day_table(result)
    assert list(days.columns[:7]) == ["crew", "day", "stops", "start", "end", "shift_start", "shift_end"]
    assert days["stops"].sum() == 3
    assert set(days["start"]) == {"07:00"}
    assert days["day"].str.fullmatch(r"\d{4}-\d\d-\d\d").all()


def test_what_is_not_planned_has_its_reason():
    table = not_planned_table(small_plan())
    assert set(table["core_id"]) == {"HV-off", "HV-shifted"}
    assert table["reason"].str.len().gt(0).all()
