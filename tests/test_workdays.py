"""Working days between two dates."""

import datetime as dt

import pandas as pd
import pytest

from pipeline.workdays import Calendar, holiday_days, working_days_after, working_days_between


def _between(start, end, region=None):
    calendar = Calendar(region) if region else None
    days = working_days_between(pd.Series(pd.to_datetime([start])), pd.Series(pd.to_datetime([end])), calendar)
    return days.iloc[0]


@pytest.mark.parametrize(
    ("start", "end", "days"),
    [
        ("2026-09-14", "2026-09-14", 0),  # the same Monday
        ("2026-09-14", "2026-09-15", 1),
        ("2026-09-11", "2026-09-14", 1),  # over a weekend
        ("2026-09-12", "2026-09-14", 1),  # from a Saturday
        ("2026-09-14", "2026-09-28", 10),
        ("2026-09-15", "2026-09-14", -1),
    ],
)
def test_saturdays_and_sundays_do_not_count(start, end, days):
    assert _between(start, end) == days


def test_christmas_is_free_where_it_is_kept():
    # Thursday to Tuesday; Boxing Day is a Saturday in 2026 and made up for on Monday the 28th in England
    assert _between("2026-12-24", "2026-12-29") == 3
    assert _between("2026-12-24", "2026-12-29", "GB-ENG") == 1


def test_a_missing_day_gives_no_number():
    assert pd.isna(_between(None, "2026-09-14"))
    assert pd.isna(_between("2026-09-14", None))
    nothing = pd.Series([], dtype="datetime64[us]")
    assert working_days_between(nothing, nothing, Calendar("CA-ON")).empty


@pytest.mark.parametrize("region", ["XX", "GB-XX", ""])
def test_a_region_that_is_not_known_is_refused_in_words(region):
    with pytest.raises(ValueError, match=r"expected the code of a country|expected GB alone"):
        holiday_days(Calendar(region), (2026, 2026))


def test_without_a_region_there_are_no_holidays():
    assert len(holiday_days(None, (2026, 2026))) == 0


def test_the_holidays_are_those_of_the_years_asked_for_in_order():
    days = pd.Series(holiday_days(Calendar("NL"), (2025, 2026)))
    assert days.is_monotonic_increasing
    assert sorted(days.dt.year.unique()) == [2025, 2026]
    # Christmas and New Year's Day of either year
    assert {"2025-01-01", "2025-12-25", "2026-01-01", "2026-12-25"} <= set(days.dt.strftime("%Y-%m-%d"))


def test_a_part_of_a_country_has_its_own_holidays_in_whatever_case_it_is_written():
    # St Andrew's Day, 30 November, is kept in Scotland and not in England
    day = pd.Timestamp("2026-11-30").to_datetime64().astype("datetime64[D]")
    assert day in holiday_days(Calendar("gb-sct"), (2026, 2026))
    assert day not in holiday_days(Calendar("GB-ENG"), (2026, 2026))


def test_a_part_that_is_not_known_is_refused_with_those_that_are():
    with pytest.raises(ValueError, match=r"^found 'CA-XX', expected CA alone, or with one of: AB, BC, .*ON"):
        holiday_days(Calendar("CA-XX"), (2026, 2026))


def test_a_period_over_the_turn_of_the_year_counts_the_holidays_of_both():
    # Wednesday 30 December to Monday 4 January: Thursday, Friday (New Year's Day) and Monday
    assert _between("2026-12-30", "2027-01-04") == 3
    assert _between("2026-12-30", "2027-01-04", "NL") == 2


def test_each_row_has_its_own_count_on_the_index_of_the_starts():
    start = pd.Series(pd.to_datetime(["2026-09-14", None, "2026-09-11"]), index=[5, 2, 9])
    end = pd.Series(pd.to_datetime(["2026-09-16", "2026-09-16", "2026-09-15"]), index=[5, 2, 9])
    counts = working_days_between(start, end, None)
    assert counts.index.tolist() == [5, 2, 9]
    assert counts.fillna(-9).tolist() == [2, -9, 2]


@pytest.mark.parametrize("days", range(1, 29))
def test_from_a_monday_working_days_are_days_less_the_weekends(days):
    """A second method: count the days of the week one by one."""
    start = pd.Timestamp("2026-09-14")
    later = [start + pd.Timedelta(days=number) for number in range(1, days + 1)]
    assert _between(start, later[-1]) == sum(day.day_of_week < 5 for day in later)


@pytest.mark.parametrize(
    ("start", "count", "region", "due"),
    [
        ("2026-09-14", 10, None, "2026-09-28"),  # Monday to Monday
        ("2026-09-12", 10, None, "2026-09-25"),  # the ten after a Saturday end on a Friday
        ("2026-09-14", 0, None, "2026-09-14"),
        ("2026-12-24", 1, "GB-ENG", "2026-12-29"),  # Christmas, and Boxing Day made up for on Monday the 28th
    ],
)
def test_the_day_by_which_working_days_have_passed(start, count, region, due):
    days = pd.Series(pd.to_datetime([start, None]))
    calendar = Calendar(region) if region else None
    found = working_days_after(days, count, calendar)
    assert found.iloc[0] == pd.Timestamp(due)
    assert pd.isna(found.iloc[1])
    # counting back gives the number again
    assert working_days_between(days, found, calendar).iloc[0] == count


def test_each_day_may_have_a_number_of_working_days_of_its_own():
    days = pd.Series(pd.to_datetime(["2026-09-14", "2026-09-14"]))
    assert working_days_after(days, pd.Series([1.0, 5.0]), None).dt.day.tolist() == [15, 21]
    assert working_days_after(days.iloc[:0], 3, Calendar("CA-ON")).empty


def _texts(days):
    return set(pd.Series(days).dt.strftime("%Y-%m-%d"))


def test_days_in_place_of_holidays_on_a_weekend_can_be_left_out():
    # 26 December 2026 is a Saturday
    assert "2026-12-28" in _texts(holiday_days(Calendar("GB-ENG"), (2026, 2026)))
    without = _texts(holiday_days(Calendar("GB-ENG", has_substitutes=False), (2026, 2026)))
    assert "2026-12-28" not in without
    assert {"2026-12-25", "2026-12-26"} <= without


def test_further_days_off_are_free_and_those_moved_from_a_sunday_too():
    calendar = Calendar("CA-ON", has_substitutes=False, sunday_to_monday=("07-01",), also=(dt.date(2029, 12, 24),))
    # 1 July is a Sunday in 2029 and a Saturday in 2028
    days = _texts(holiday_days(calendar, (2028, 2029)))
    assert {"2029-07-02", "2029-12-24"} <= days
    assert not {"2028-07-02", "2028-07-03"} & days


def test_the_calendar_ends_with_the_year_9999():
    days = working_days_after(
        pd.Series(pd.to_datetime(["9999-12-20"])), 5, Calendar("CA-ON", sunday_to_monday=("07-01",))
    )
    assert days.iloc[0] >= pd.Timestamp("9999-12-24")
