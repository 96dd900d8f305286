"""Which period a day of the plan is in."""

import datetime as dt

import pandas as pd
import pytest

from pipeline.order.periods import periods_of, written

_AS_OF = dt.date(2026, 9, 30)  # a Wednesday of week 40


def _days(*days):
    return pd.Series(pd.to_datetime(list(days)))


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
    found = periods_of(_days(day), period, _AS_OF)
    assert found["period"].tolist() == [name]
    assert found["period_start"].dt.strftime("%Y-%m-%d").tolist() == [start]


@pytest.mark.parametrize("period", ["week", "month", "all"])
def test_no_days_have_no_periods(period):
    assert all(column.empty for column in periods_of(_days(), period, _AS_OF).values())


def test_days_are_written_by_a_format_and_a_missing_day_stays_missing():
    texts = written(_days("2026-10-05", None, "2026-10-05"), "%d/%m")
    assert texts.iloc[[0, 2]].tolist() == ["05/10", "05/10"]
    assert pd.isna(texts.iloc[1])
