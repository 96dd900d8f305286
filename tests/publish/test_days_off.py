"""Which days off a run counted with, in its record and in its report."""

import datetime as dt
from dataclasses import replace

import pandas as pd
import pytest
from markupsafe import Markup

from pipeline.publish.days_off import days_off, days_off_in_words, days_off_record
from pipeline.publish.words import words_of

_WORDS = words_of("en")


def _with(result, **settings):
    """Return a run with other settings of its programme."""
    programme = result.settings.programme.model_copy(update=settings)
    return replace(result, settings=result.settings.model_copy(update={"programme": programme}))


def _said(result):
    return Markup(" ").join(days_off_in_words(result, _WORDS)).striptags()


def test_the_record_lists_the_holidays_from_monday_to_friday_and_who_says_what_replaces_others(demo):
    found = days_off_record(demo)
    assert (found["region"], found["substitute_days"]) == ("CA-ON", False)
    assert found["substitute_days_from"].startswith("Employment Standards Act, 2000 (Ontario), s. 29")
    # 26 December 2026 is a Saturday, 25 and 26 December 2027 a weekend
    assert [day for day in found["days"] if day >= "2026-10"] == [
        "2026-10-12", "2026-12-25", "2027-01-01", "2027-02-15", "2027-03-26", "2027-05-24", "2027-07-01", "2027-09-06",
        "2027-10-11",
    ]  # fmt: skip


def test_the_years_begin_with_the_first_reinstatement_and_not_with_a_slip_of_a_century(demo):
    done = pd.Series(pd.NaT, demo.cores.index, dtype=demo.cores["reinstated_at"].dtype)
    for first, year in ((None, 2026), ("2024-05-06", 2024), ("1926-05-06", 2017)):
        cores = demo.cores.assign(reinstated_at=done)
        if first:
            cores.loc[cores.index[3], "reinstated_at"] = pd.Timestamp(first, tz="America/Toronto")
        assert days_off(replace(demo, cores=cores)).days[0].year == year


def test_without_a_region_the_report_says_that_only_weekends_are_off(demo):
    result = _with(demo, holidays=None)
    assert days_off_record(result) is None
    assert _said(result) == (
        "Working days: Monday to Friday. The programme names no region whose public holidays are days off."
    )


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ({}, "A holiday on a weekend has no other day off in its place. Source: Employment Standards Act, 2000"),
        ({"holidays": "GB-ENG"}, "in place of holidays on a weekend. Source: the holidays package."),
        (
            {"substitute_days": True},
            "The list has the days off in place of holidays on a weekend. Source: the programme.",
        ),
        (
            {"substitute_days": [dt.date(2026, 12, 28)]},
            "Days off in place of holidays on a weekend: 28 Dec 2026. Source: the programme.",
        ),
    ],
)
def test_the_report_says_what_is_off_in_place_of_holidays_on_a_weekend(demo, settings, said):
    assert said in _said(_with(demo, **settings))
    # the days of the year of the audit and the next
    assert "except the public holidays of " in _said(_with(demo, **settings))
