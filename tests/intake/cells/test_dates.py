"""Dates as people write them."""

import pandas as pd
import pytest

from pipeline.intake.cells.dates import read_dates

_ZONE = "America/Toronto"


def _read(*cells, day_first=None):
    return read_dates(pd.Series(cells, dtype="str"), _ZONE, day_first=day_first)


@pytest.mark.parametrize(
    "written",
    [
        "2026-09-30",
        "20260930",
        "2026/09/30",
        "30/09/2026",
        "30.09.2026",
        "30-9-2026",
        "30 Sep 2026",
        "30-Sep-2026",
        "30th September 2026",
        "Sept 30, 2026",
        " 2026-09-30 ",
        "2026-09-30 00:00:00",
    ],
)
def test_a_day_is_read_as_it_was_meant(written):
    assert _read(written, day_first=True).instants[0] == pd.Timestamp("2026-09-30", tz=_ZONE)


def test_the_setting_alone_says_whether_the_day_comes_first():
    assert _read("03/04/2026", day_first=True).instants[0].month == 4
    assert _read("03/04/2026", day_first=False).instants[0].month == 3
    assert _read("03/04/2026").problem[0] == "day or month first"
    # a day that could only be one of the two is not guessed either
    assert _read("30/09/2026").problem[0] == "day or month first"
    assert _read("30/09/2026", day_first=False).problem[0] == "unreadable"


@pytest.mark.parametrize(
    "written",
    [
        "2026",
        "soon",
        "31/02/2026",
        "2026-13-01",
        "2026-09-30T25:00",
        "30 Foo 2026",
        "2026-9-30 noon",
        "٢٠٢٦-٠٥-١٦",
        "9999-12-31T23:59:59-05:00",
    ],
)
def test_what_is_no_date_is_not_read(written):
    read = _read(written, day_first=True)
    assert pd.isna(read.instants[0])
    assert read.problem[0] == "unreadable"


def test_a_year_of_two_digits_is_of_the_hundred_years_from_1970():
    read = _read("16/05/26", "16-May-69", "16.5.70", day_first=True)
    assert read.instants.dt.strftime("%Y-%m-%d").tolist() == ["2026-05-16", "2069-05-16", "1970-05-16"]


def test_a_spreadsheet_serial_is_refused_by_name():
    assert _read("46023").problem[0] == "spreadsheet serial number"


def test_instants_come_in_the_programmes_zone():
    # Toronto is four hours behind UTC in summer
    zulu, paris, local, afternoon = _read(
        "2026-09-30T14:05:06Z", "2026-09-30 14:05+02:00", "2026-09-30 14:05", "30.09.2026 2:05 pm", day_first=True
    ).instants
    assert zulu == pd.Timestamp("2026-09-30 10:05:06", tz=_ZONE)
    assert paris == pd.Timestamp("2026-09-30 08:05", tz=_ZONE)
    assert local == afternoon == pd.Timestamp("2026-09-30 14:05", tz=_ZONE)


def test_an_hour_that_the_clocks_skip_or_repeat_is_still_an_instant():
    skipped, repeated = _read("2026-03-08T02:30", "2026-11-01T01:30").instants
    assert skipped == pd.Timestamp("2026-03-08 03:00", tz=_ZONE)
    assert repeated == pd.Timestamp("2026-11-01 05:30", tz="UTC")


def test_empty_cells_are_missing_and_no_problem():
    read = _read(None, "n/a", "2026-09-30")
    assert read.instants.isna().tolist() == [True, True, False]
    assert read.problem.isna().all()
