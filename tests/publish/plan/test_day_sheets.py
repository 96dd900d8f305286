"""Tests of how the stops of a crew's day are cut into pages."""

import datetime as dt

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import Markup

from pipeline.publish.plan.day_sheets import SheetStop, SheetTop, cut_of, pages_of, stop_of
from pipeline.publish.plan.sheet_layout import LAYOUTS
from pipeline.publish.plan.stop_lines import StopLines
from pipeline.publish.words import words_of

_TOP = SheetTop((), (Markup("Shift 07:00 to 15:30"),), (Markup("Traffic: signs first."),))
_DAY = dt.date(2026, 10, 5)
_ROOMY, _USUAL, _TIGHT = LAYOUTS[:3]
# a stop that nothing is mixed for: a first line of 6, two lines of 3.9, boxes of 8 and a frame of 1.2
_LEAST = 6 + 2 * 3.9 + 8 + 1.2


def _stop(number, extra=0):
    """Return a stop with so many lines more than it needs."""
    short = Markup("aa")
    lines = (*[short] * extra, short, short)
    return SheetStop(number, "survey", short, short, "", short, short, lines, (Markup(),) * 4, (), short)


def _cut(*extras, high=264.5, top=_TOP):
    return cut_of(top, [_stop(number, extra) for number, extra in enumerate(extras, 1)], high)


def test_a_stop_takes_its_first_line_its_lines_and_its_boxes():
    assert _stop(1).high(_TIGHT) == pytest.approx(_LEAST)
    assert _stop(1, 3).high(_TIGHT) == pytest.approx(_LEAST + 3 * 3.9)
    # roomy: 8.2, two lines of 5.4, boxes of 13
    assert _stop(1).high(_ROOMY) == pytest.approx(8.2 + 2 * 5.4 + 13 + 1.2)


def test_the_top_takes_its_map_and_its_cautions():
    # a map of 46 with 1 below, a line of 3.9 with 1 below
    assert _TOP.high(_TIGHT) == pytest.approx(46 + 1 + 3.9 + 1)


def test_a_load_higher_than_the_map_counts():
    long = _TOP._replace(lines=(Markup("aa"),) * 20)
    assert long.high(_TIGHT) == pytest.approx(20 * 3.9 + 2.5 + 1 + 3.9 + 1)


def test_eight_stops_fit_a_page_of_letter_paper_beside_seven_lines_of_cautions():
    top = _TOP._replace(cautions=(Markup("aa"),) * 7)
    # 264.5 less a head of 9 and eight stops of 23 leave 71.5: cautions 7 x 3.9 and gaps of 2 leave 42.2 for the map
    layout, cut = _cut(*[0] * 8, top=top)
    assert (layout.name, layout.map_high, len(cut)) == ("tight", 38, 1)


def test_a_day_of_few_stops_is_roomy():
    # 264.5 less a head of 9, a map of 72, gaps of 2 and a line of 5.4 leave 176: five stops of 33.2
    assert _cut(*[0] * 5)[0] == _ROOMY
    assert _cut(*[0] * 6)[0] == _USUAL


def test_a_day_that_fits_no_page_has_the_roomiest_layout_of_the_fewest_pages():
    layout, cut = _cut(*[0] * 12)
    # roomy: five stops less the line that says it goes on leave room for five, then seven on the next page
    assert (layout, [len(stops) for stops in cut]) == (_ROOMY, [5, 7])


def test_a_stop_higher_than_a_page_has_one_to_itself():
    assert [[stop.number for stop in stops] for stops in _cut(100, 0, 100)[1]] == [[], [1], [2], [3]]


@given(st.lists(st.integers(0, 60), min_size=1, max_size=15))
def test_each_stop_is_on_one_page_in_its_order(extras):
    layout, cut = _cut(*extras)
    pages = pages_of(Markup("North crew"), _DAY, _TOP, Markup(), layout, cut)
    assert [stop.number for page in pages for stop in page.stops] == list(range(1, len(extras) + 1))
    assert [page.number for page in pages] == list(range(1, len(pages) + 1))
    assert [page.top for page in pages] == [_TOP] + [None] * (len(pages) - 1)
    assert all(page.stops for page in pages[1:])


def _plain_layout(stops, top):
    """Return the roomiest layout of the fewest pages, all of them cut with every text measured."""
    pages = []
    for layout in LAYOUTS:
        left, page = 255.5 - top.high(layout), 255.5
        foot = 0 if sum(stop.high(layout) for stop in stops) <= left else layout.line
        count, left, begun = 1, left - foot, 0
        for number, stop in enumerate(stops):
            if stop.high(layout) > left and (count == 1 or number > begun):
                count, left, begun = count + 1, page - foot, number
            left -= stop.high(layout)
        pages.append(count)
    return LAYOUTS[pages.index(min(pages))], min(pages)


@given(st.lists(st.integers(0, 6), min_size=1, max_size=20), st.integers(0, 30))
def test_layouts_that_could_not_take_fewer_pages_are_not_measured_and_change_nothing(extras, cautions):
    top = _TOP._replace(cautions=(Markup("aa"),) * cautions)
    layout, cut = _cut(*extras, top=top)
    stops = [_stop(number, extra) for number, extra in enumerate(extras, 1)]
    assert (layout, len(cut)) == _plain_layout(stops, top)


@pytest.mark.parametrize(("crew", "is_long"), [("North crew", False), ("M" * 60, True)])
def test_a_long_name_of_a_crew_gets_smaller_letters(crew, is_long):
    (page,) = pages_of(Markup(crew), _DAY, _TOP, Markup(), _TIGHT, [[_stop(1)]])
    assert page.is_long is is_long


def _row(**cells):
    return {
        "row": 1, "core_id": "HV-1", "stop": 1, "day": pd.Timestamp(_DAY), "task": "survey", "street": "Mill Road",
        "side": None, "chainage_m": None, "district": "North", "diameter_mm": None, "depth_mm": None,
        "weight_kg": None, "surface": "unknown", "state": "open", "mix": pd.NA, "shade": None, "arrival": "08:00",
        "late_days": 0, "due_on": pd.NaT, "is_kept": False, "permit_no": None, "permit_expires_on": pd.NaT,
        "findings": "", **cells,
    }  # fmt: skip


def test_a_stop_has_its_own_cautions_and_what_was_flagged_behind_its_last_line():
    words = words_of("en")
    lines = StopLines(words, "metric", {"odd": "No depth is recorded."})
    names = {"survey": words.say("sheet.task_survey"), "dark": Markup("DARK")}
    stop = stop_of(_row(findings="odd"), [], ["Unknown surface: check the road."], lines, names, Markup())
    assert (stop.shade, stop.frame) == ("", "Survey")
    assert stop.lines[-1].endswith("Unknown surface: check the road.")
    assert [str(text) for text in stop.flagged] == ["Flagged: 1 finding, see plan.csv."] + [
        "<b>Flagged: No depth is recorded.</b>"
    ] * 3
    mixed = _row(task="reinstate", shade="dark", mix=3, bags=1.0, water_l=2.0, gravel_kg=0.0, pour="08:30",
        air_c=None, earliest_traffic="10:00")  # fmt: skip
    assert stop_of(mixed, [mixed], [], lines, names, Markup()).frame == "DARK"
