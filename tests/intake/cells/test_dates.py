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


@pytest.mark.parametrize("written", ["30.9.2026 7.46", "2026-09-30 07.46", "30 Sep 2026 07.46.00", "30/09/26 7:46"])
def test_a_time_may_have_a_point_between_hours_and_minutes(written):
    assert _read(written, day_first=True).instants[0] == pd.Timestamp("2026-09-30 07:46", tz=_ZONE)


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
        "0001-01-01",
        "0001-01-01T00:00:00",
    ],
)
def test_what_is_no_date_is_not_read(written):
    read = _read(written, day_first=True)
    assert pd.isna(read.instants[0])
    assert read.problem[0] == "unreadable"


def test_a_year_of_two_digits_is_of_the_hundred_years_from_1970():
    read = _read("16/05/26", "16-May-69", "16.5.70", day_first=True)
    assert read.instants.dt.strftime("%Y-%m-%d").tolist() == ["2026-05-16", "2069-05-16", "1970-05-16"]


@pytest.mark.parametrize("zone", ["America/Toronto", "Pacific/Kiritimati"])
def test_the_last_day_of_the_calendar_which_stands_for_no_end_is_that_day_at_whatever_time(zone):
    cells = pd.Series(
        ["9999-12-31", "9999-12-31T23:59:59Z", "9999-12-31 23:59:59-05:00", "2026-09-30T14:05Z"], dtype="str"
    )
    read = read_dates(cells, zone, day_first=None)
    assert read.problem.isna().all()
    assert read.instants[:3].dt.strftime("%Y-%m-%dT%H:%M").tolist() == ["9999-12-31T00:00"] * 3
    assert read.instants[3] == pd.Timestamp("2026-09-30 14:05", tz="UTC")


def test_a_column_of_midnights_in_utc_is_a_column_of_days():
    read = _read("2026-09-30T00:00:00Z", "2026-09-29T00:00:00+00:00", "2026-09-28").instants
    assert read.dt.strftime("%d %H:%M").tolist() == ["30 00:00", "29 00:00", "28 00:00"]
    # one other time, or another zone, and they are times
    read = _read("2026-09-30T00:00:00Z", "2026-09-29T14:00:00Z").instants
    assert read.dt.strftime("%d %H:%M").tolist() == ["29 20:00", "29 10:00"]
    assert _read("2026-09-30T00:00:00+02:00").instants.dt.strftime("%d %H:%M").tolist() == ["29 18:00"]


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


_VANCOUVER = "America/Vancouver"


def test_a_time_in_the_registers_zone_comes_in_the_programmes_and_a_day_stays_that_day():
    """Vancouver is three hours behind Toronto all year."""
    cells = pd.Series(["2026-09-30 22:30", "2026-09-30", "30 Sep 2026 6:00 am", "2026-09-30T14:00Z"], dtype="str")
    late, day, early, zulu = read_dates(cells, _ZONE, day_first=None, written_in=_VANCOUVER).instants
    assert late == pd.Timestamp("2026-10-01 01:30", tz=_ZONE)
    assert day == pd.Timestamp("2026-09-30", tz=_ZONE)
    assert early == pd.Timestamp("2026-09-30 09:00", tz=_ZONE)
    assert zulu == pd.Timestamp("2026-09-30 10:00", tz=_ZONE)


def test_a_column_of_midnights_is_a_column_of_days_and_a_single_midnight_is_a_time():
    days = pd.Series(["2026-09-30 00:00:00", "2026-09-29 00:00", None, "2026-09-28"], dtype="str")
    read = read_dates(days, _ZONE, day_first=None, written_in=_VANCOUVER).instants
    assert read.dropna().dt.strftime("%d %H:%M").tolist() == ["30 00:00", "29 00:00", "28 00:00"]
    times = pd.Series(["2026-09-30 00:00", "2026-09-29 08:00"], dtype="str")
    read = read_dates(times, _ZONE, day_first=None, written_in=_VANCOUVER).instants
    assert read.dt.strftime("%d %H:%M").tolist() == ["30 03:00", "29 11:00"]


def test_serial_numbers_are_read_in_the_cells_that_may_hold_them_and_no_others():
    """46082 is 1 March 2026; half a day more is noon in Vancouver, 3 pm in Toronto."""
    cells = pd.Series(
        ["46082", "46082", "46082.5", "20260301", "2026-03-02", None], index=[5, 3, 8, 1, 0, 9], dtype="str"
    )
    serial = pd.Series([True, False, True, True, True, True], index=cells.index)
    read = read_dates(cells, _ZONE, day_first=None, written_in=_VANCOUVER, serial=serial)
    assert read.instants.index.tolist() == cells.index.tolist()
    assert read.instants.dt.strftime("%m-%d %H:%M").fillna("").tolist() == [
        "03-01 00:00", "", "03-01 15:00", "03-01 00:00", "03-02 00:00", "",
    ]  # fmt: skip
    assert read.problem.fillna("").tolist() == ["", "spreadsheet serial number", "", "", "", ""]


def test_serial_numbers_of_a_workbook_from_1904_are_four_years_and_a_day_later():
    """From day 0 on 1 January 1904, 1 March 2026 is day 46082 - 1462."""
    cells = pd.Series(["44620"], dtype="str")
    read = read_dates(cells, _ZONE, day_first=None, serial=pd.Series([True]), is_1904=True)
    assert read.instants[0] == pd.Timestamp("2026-03-01", tz=_ZONE)
