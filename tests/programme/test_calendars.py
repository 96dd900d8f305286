"""The calendar of a programme: its region, and what is off in place of holidays on a weekend."""

import datetime as dt

import pytest

from pipeline.programme.calendars import calendar_of, substitute_days_of
from pipeline.programme.settings import Programme
from pipeline.workdays import Calendar

_LISTED = [dt.date(2026, 12, 28)]


def test_without_a_region_there_is_no_calendar():
    assert calendar_of(None, None) is None
    assert Programme(name="Town").calendar is None


def test_ontario_has_no_substitute_days_by_law_in_whatever_case_it_is_written():
    for region in ("CA-ON", " ca-on"):
        assert calendar_of(region, None) == Calendar(region, has_substitutes=False, sunday_to_monday=("07-01",))
        assert "Employment Standards Act" in substitute_days_of(region, None).source


def test_where_no_law_was_read_the_package_decides():
    assert calendar_of("GB-ENG", None) == Calendar("GB-ENG", has_substitutes=True)
    assert substitute_days_of("GB-ENG", None).source == ""


@pytest.mark.parametrize(
    ("stated", "has_substitutes", "also"),
    [(True, True, ()), (False, False, ()), (_LISTED, False, tuple(_LISTED))],
)
def test_what_the_programme_states_applies_and_the_law_still_moves_canada_day(stated, has_substitutes, also):
    found = Programme(name="Town", holidays="CA-ON", substitute_days=stated).calendar
    assert found == Calendar("CA-ON", has_substitutes, ("07-01",), also)
    assert substitute_days_of("CA-ON", stated) == (stated, "programme")
