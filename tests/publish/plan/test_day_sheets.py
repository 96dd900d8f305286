"""Tests of how the stops of a crew's day are cut into pages."""

import datetime as dt

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import Markup

from pipeline.publish.plan.day_sheets import SheetStop, pages_of, stop_of
from pipeline.publish.plan.stop_lines import StopLines
from pipeline.publish.words import words_of

_TOP = {"cautions": ["Traffic: signs first."], "own_cautions": []}
_DAY = dt.date(2026, 10, 5)


def _stop(number, high):
    nothing = Markup()
    return SheetStop(
        number, "reinstate", nothing, nothing, nothing, nothing, "dark", nothing, (), (), (), nothing, high
    )


def _pages(*heights, crew="North crew", top=_TOP):
    return pages_of(Markup(crew), _DAY, top, [_stop(number, high) for number, high in enumerate(heights, 1)])


def test_a_day_that_fits_is_one_page_with_its_top():
    # 262 mm less a head of 10.5, a map of 56, two gaps of 2, and two lines of cautions of 4.9 leave 180.7
    (page,) = _pages(60, 60, 60)
    assert (page.number, page.of, len(page.stops)) == (1, 1, 3)
    assert page.top is _TOP


def test_what_does_not_fit_goes_on_without_the_top():
    first, second = _pages(60, 60, 60.5, 100)
    assert [stop.number for stop in first.stops] == [1, 2, 3]
    assert [stop.number for stop in second.stops] == [4]
    assert (second.number, second.of, second.top) == (2, 2, None)


def test_a_stop_higher_than_a_page_has_one_to_itself():
    assert [len(page.stops) for page in _pages(500, 20, 500)] == [0, 1, 1, 1]


@given(st.lists(st.floats(30, 300), min_size=1, max_size=15))
def test_each_stop_is_on_one_page_in_its_order(heights):
    pages = _pages(*heights)
    assert [stop.number for page in pages for stop in page.stops] == list(range(1, len(heights) + 1))
    assert [page.number for page in pages] == list(range(1, len(pages) + 1))
    assert all(page.stops for page in pages[1:])


@pytest.mark.parametrize(("crew", "is_long"), [("North crew", False), ("M" * 60, True)])
def test_a_long_name_of_a_crew_gets_smaller_letters(crew, is_long):
    assert _pages(50, crew=crew)[0].is_long is is_long


def _row(**cells):
    return {
        "row": 1, "core_id": "HV-1", "stop": 1, "day": pd.Timestamp(_DAY), "task": "survey", "street": "Mill Road",
        "side": None, "chainage_m": None, "district": "North", "diameter_mm": None, "depth_mm": None,
        "weight_kg": None, "surface": "unknown", "state": "open", "mix": pd.NA, "shade": None, "arrival": "08:00",
        "late_days": 0, "due_on": pd.NaT, "is_kept": False, "permit_no": None, "permit_expires_on": pd.NaT,
        "findings": "", **cells,
    }  # fmt: skip


def test_a_stop_that_says_more_is_higher_by_whole_lines():
    words = words_of("en")
    lines = StopLines(words, "metric", {"odd": "No depth is recorded."}, [])
    names = {"survey": words.say("sheet.task_survey")}
    short = stop_of(_row(), [], [], lines, names, Markup())
    longer = stop_of(_row(findings="odd"), [], ["Unknown surface: check the road."], lines, names, Markup())
    assert short.shade == ""
    assert len(longer.lines) == len(short.lines) + 2
    # title 8.2, the line on the survey and three more of 4.9, frame 3.4, boxes 12.2; two more lines
    assert short.high == pytest.approx(8.2 + 4 * 4.9 + 3.4 + 12.2)
    assert longer.high == pytest.approx(short.high + 2 * 4.9)
