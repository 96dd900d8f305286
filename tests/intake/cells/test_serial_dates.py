"""Serial numbers of spreadsheets; expected days counted with the calendar of the standard library."""

import datetime as dt

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake.cells.serial_dates import could_be_serial, serial_times


def _time(written, *, is_1904=False):
    return serial_times(pd.Series([written], dtype="str"), is_1904=is_1904)[0]


@pytest.mark.parametrize(
    ("written", "time"),
    [
        ("36526", "2000-01-01"),
        ("46082", "2026-03-01"),
        (" 46082.0 ", "2026-03-01"),
        ("73050", "2099-12-31"),
        ("46082.25", "2026-03-01 06:00"),
        # 14:30 is 870 of 1440 minutes
        ("46082.604166666664", "2026-03-01 14:30"),
        ("46082.6041667", "2026-03-01 14:30"),
        ("46082.999988426", "2026-03-01 23:59:59"),
    ],
)
def test_days_are_counted_from_1900_and_the_time_of_day_is_their_fraction(written, time):
    assert _time(written) == pd.Timestamp(time)


def test_from_1904_the_same_day_has_a_number_smaller_by_1462():
    """1900 to 1903 have 1460 days; the count from 1900 begins with 1 and has a 29 February 1900 that never was."""
    assert _time("44620", is_1904=True) == _time("46082")
    assert _time("0", is_1904=True) is pd.NaT


@pytest.mark.parametrize(
    "written",
    ["2026", "260301", "20260301", "19999", "80001", "46082,5", "46 082", "-46082", "4.6082e4", "٤٦٠٨٢", "", None],
)
def test_a_year_a_written_date_or_a_day_beyond_the_range_is_no_serial_number(written):
    assert not could_be_serial(pd.Series([written], dtype="str"))[0]
    assert _time(written) is pd.NaT


@settings(deadline=None)
@given(st.dates(dt.date(1955, 1, 1), dt.date(2118, 12, 31)))
def test_every_day_in_range_comes_back_from_its_number_in_either_count(day):
    number = (day - dt.date(1900, 1, 1)).days + 2
    assert _time(str(number)) == pd.Timestamp(day)
    assert _time(str((day - dt.date(1904, 1, 1)).days), is_1904=True) == pd.Timestamp(day)
