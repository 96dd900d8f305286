"""Working days between two dates."""

import pandas as pd
import pytest

from pipeline.workdays import holiday_days, working_days_between


def _between(start, end, region=None):
    days = working_days_between(pd.Series(pd.to_datetime([start])), pd.Series(pd.to_datetime([end])), region)
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
    assert working_days_between(nothing, nothing, "CA-ON").empty


@pytest.mark.parametrize("region", ["XX", "GB-XX", ""])
def test_a_region_that_is_not_known_is_refused_in_words(region):
    with pytest.raises(ValueError, match=r"expected a country|the parts known are"):
        holiday_days(region, (2026, 2026))
