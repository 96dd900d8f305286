"""The street sheet and the year of months: what each strip says, and how one gets from a mark to its core.

The town's street runs from west to east over 0.008 degrees, at 44.8 degrees north 633 m (a degree of longitude is
79.12 km there); the lane meets it in the middle.
"""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from tests.browser.browser import open_page
from tests.browser.test_map_access import violations
from tests.browser.town import FINDINGS, HOSTILE, STREET, cores, saved, view, wait_until_drawn

# four cuts: two a metre apart, opened in August and September; one in the east, of last year; one in the lane
CUT = cores(
    {
        "lon": -82.003,
        "lat": STREET,
        "chainage_m": 79.0,
        "opened_on": "2026-08-03",
        "reinstated_at": "2026-08-20",
        "status": "reinstated",
    },
    {"lon": -82.003, "lat": STREET, "chainage_m": 80.0, "opened_on": "2026-09-03"},
    {"lon": -81.997, "lat": STREET, "chainage_m": 553.0, "opened_on": "2026-10-03"},
    {
        "lon": -82.0,
        "lat": 44.801,
        "chainage_m": 111.0,
        "segment_id": "HV-2",
        "street": "Dory Lane",
        "opened_on": "2026-10-05",
    },
    {"segment_id": None, "street": None, "status": "flagged", "opened_on": "2026-11-01"},
).assign(state=["back", "open", "plated", "open", "open"], urgency=[None, "overdue", None, "hazard", None])
CUT = CUT.assign(
    plated_on=[None, None, "2026-10-06", None, None],
    permit_expires_on=[None, "2026-10-01", "2026-12-01", None, None],
)
WORKS = gpd.GeoDataFrame(
    {"works_id": ["W-1"], "kind": ["planned"], "name": ["Relaying"], "on": ["2026-11-01"], "until": ["2026-11-20"]},
    geometry=[shapely.box(-82.0035, 44.799, -81.996, 44.801)],
    crs=4326,
)
# the easternmost mark of an open core in the small map of October, as shares of its width and height
WHERE_OPEN = """(() => {
  const map = document.querySelector('.month:nth-child(11) canvas');
  const { data } = map.getContext('2d').getImageData(0, 0, map.width, map.height);
  const red = Array.from({ length: data.length / 4 }, (_none, i) => i)
    .filter((i) => data[4 * i] > 150 && data[4 * i + 1] < 80 && data[4 * i + 3] > 200);
  const east = Math.max(...red.map((i) => i % map.width));
  const marks = red.filter((i) => i % map.width > east - 9);
  const mean = (values) => values.reduce((sum, value) => sum + value, 0) / values.length;
  return [mean(marks.map((i) => i % map.width)) / map.width, mean(marks.map((i) => Math.floor(i / map.width))) / map.height];
})()"""
HEADS = "[...document.querySelectorAll('.street h3')].map((head) => head.textContent)"


def sheet(folder, **changes):
    in_works = pd.DataFrame({"row": [2, 3], "works_id": ["W-1", "W-1"]})
    shown = view(cores=CUT, findings=FINDINGS[:0], works=WORKS, in_works=in_works, **changes)
    return saved(folder, shown)


def test_a_strip_per_street_shows_its_cores_along_it_and_opens_each_by_mouse_and_keyboard(tmp_path):
    with open_page(sheet(tmp_path), width=1400, height=900) as page:
        wait_until_drawn(page)
        # nothing is worked out before it is asked for
        assert page.ask("document.querySelector('#streets-view').childElementCount") == 0
        page.page.click("#as-streets")
        heads_and_facts(page)
        places_along_the_street(page)
        marks_and_works(page)
        from_core_to_core(page)
        order_filter_and_units(page)
        assert page.complaints == []


def heads_and_facts(page):
    """3 cuts in the street's 633 m are 0.47 per 100 m; 1 cut in the lane's 333 m is 0.3."""
    assert page.ask(HEADS) == ["Capstan Street", "Dory Lane"]
    # the two cuts a metre apart lie on either side of 80 m
    assert page.text(".street-facts") == "3 cores on 633 m · 0.47 per 100 m · up to 2 within 10 m"
    assert page.ask("document.querySelectorAll('.street:nth-of-type(1) .strip-cuts-1').length") == 3
    assert page.text(".street:nth-of-type(1) .strip-urgent") == "1 overdue"
    assert page.text(".street:nth-of-type(2) .strip-urgent") == "1 hazard"
    ends = "[...document.querySelectorAll('.street-ends')].map((e) => e.textContent)"
    assert page.ask(ends) == ["west → east", "south → north"]
    assert page.text(".strips > .hint") == "1 core has no road segment and is not shown here; the table lists it."


def along(page, element):
    """Where the left and the right of elements are, as shares of the street's length."""
    return page.ask(
        "(() => { const road = document.querySelector('.strip-road').getBoundingClientRect();"
        f"return [...document.querySelectorAll({element!r})].map((e) => {{ const b = e.getBoundingClientRect();"
        "return [(b.left - road.left) / road.width, (b.right - road.left) / road.width]; }); })()"
    )


def places_along_the_street(page):
    """The lane is named where it meets the street, halfway; the cores lie at 79, 80 and 553 of 633 m."""
    assert page.text(".strip-crossing-name") == "Dory Lane"
    assert abs(np.mean(along(page, ".street:nth-of-type(1) .strip-crossing-name")) - 0.5) < 0.01
    marks = np.sort(np.mean(along(page, ".street:nth-of-type(1) [role=option]"), axis=1))
    assert np.allclose(marks, [79 / 633, 80 / 633, 553 / 633], atol=0.005)


def marks_and_works(page):
    labels = "[...document.querySelectorAll('.street:nth-of-type(1) [role=option]')].map((m) => m.ariaLabel).sort()"
    assert page.ask(labels) == [
        "C-1, Reinstated, opened 3 August 2026, reinstated 20 August 2026",
        "C-2, Open, opened 3 September 2026, permit expires 1 October 2026, Overdue",
        "C-3, Plated, opened 3 October 2026, plated 6 October 2026, permit expires 1 December 2026",
    ]
    # overdue: red from the day the permit expired; not yet due: dashed beyond today
    assert page.ask("document.querySelectorAll('.street:nth-of-type(1) .mark-late').length") == 1
    assert page.ask("document.querySelectorAll('.street:nth-of-type(1) .mark-ahead').length") == 1
    # from the first to the last of its cores
    assert np.allclose(along(page, ".strip-planned"), [[80 / 633, 553 / 633]], atol=0.015)
    assert page.text(".strip-planned title") == "Planned works Relaying"


def from_core_to_core(page):
    active = "document.getElementById(document.activeElement.getAttribute('aria-activedescendant'))"
    page.page.focus(".street:nth-of-type(1) .strip")
    page.page.keyboard.press("ArrowRight")
    assert page.text(".strip-caption").startswith("C-2, Open")
    assert page.ask(f"{active}.ariaLabel").startswith("C-2, Open")
    page.page.keyboard.press("Enter")
    page.wait_for("document.querySelector('dialog').open")
    assert "C-2" in page.text("dialog")
    page.page.keyboard.press("Escape")
    page.page.keyboard.press("End")
    spot = page.ask(
        f"(() => {{ const b = {active}.getBoundingClientRect(); return [b.left + b.width / 2, b.top + b.height / 2]; }})()"
    )
    page.page.mouse.click(*spot)
    page.wait_for("document.querySelector('dialog').open")
    assert "C-3" in page.text("dialog")
    page.page.keyboard.press("Escape")


def order_filter_and_units(page):
    page.page.select_option(".order select", "urgent")
    assert page.ask(HEADS) == ["Dory Lane", "Capstan Street"]
    page.ask("kerfbook.filter.ask('urgency', new Set(['overdue']))")
    assert page.ask(HEADS) == ["Capstan Street"]
    assert page.text(".street-facts").startswith("1 core on 633 m")
    page.page.click("#in-us")
    assert page.text(".street-facts").startswith("1 core on 2,076.8 ft")
    page.wait_for("location.hash.includes('view=streets')")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_the_strips_and_the_months(tmp_path, scheme):
    with open_page(sheet(tmp_path), width=390, height=844, fragment="#view=streets", color_scheme=scheme) as page:
        wait_until_drawn(page)
        page.wait_for("document.querySelector('.strip') !== null")
        assert violations(page) == []
        assert title_lines(page) == 1
        page.ask("void [...document.querySelectorAll('.streets-head button')][1].click()")
        page.wait_for("document.querySelector('.month') !== null")
        assert violations(page) == []
        assert title_lines(page) == 1


def title_lines(page):
    return page.ask(
        "(() => { const head = document.querySelector('.streets-head h2');"
        "const lines = document.createRange(); lines.selectNodeContents(head); return lines.getClientRects().length; })()"
    )


def _print_what_is_shown(page, paper, way):
    page.ask("void (window.print = () => window.dispatchEvent(new Event('beforeprint')))")
    page.ask("void document.querySelector('#print').click()")
    assert page.text("#print-dialog .print-says") == "One sheet: a year of 5 cores, month by month."
    for name, value in (("paper", paper), ("way", way)):
        page.ask(f"void document.querySelector('#print-dialog input[name=print-{name}][value={value}]').click()")
    page.ask("void document.querySelector('#print-dialog .print-go').click()")


def test_one_mistyped_year_does_not_press_the_other_dates_of_a_street_together(tmp_path):
    """Day 20600 is 27 May 2026, and -25567 is 1 January 1900; the map is of day 20782."""
    with open_page(sheet(tmp_path)) as page:
        wait_until_drawn(page)

        def first(opened):
            days = f"Object.assign(Object.create(KerfbookDaysOfCores.Days.prototype), {{ opened: {opened}, dueOf: () => NaN }})"
            return page.ask(f"{days}.range([...{opened}.keys()])[0]")

        # from the first of May on
        assert first([20600, 20610, -25567, 20640, 20650]) == 20574
        # a street that has been cut again and again for years keeps them all: 8 April 2014, from the first of that month
        assert first([16168 + 500 * n for n in range(10)]) == 16161
        # an honest old cut is no mistake: 20782 less two years
        assert first([20052, 20700, 20710, 20720]) < 20052


def test_a_year_of_months_counts_what_was_opened_and_what_was_still_open_and_filters(tmp_path):
    with open_page(sheet(tmp_path), width=1400, height=900, fragment="#view=months") as page:
        wait_until_drawn(page)
        months = page.ask(
            "[...document.querySelectorAll('.month')].map((m) => [...m.querySelectorAll('a, span')].map((s) => s.textContent))"
        )
        assert [month[0] for month in months][:2] == ["December 2025", "January 2026"]
        assert [month[0] for month in months][-1] == "November 2026"
        # opened: one each in August and September, two in October, one in November; C-1 was reinstated in August
        assert [tuple(month[1:]) for month in months[-5:]] == [
            ("0 opened", "0 open at the end"),
            ("1 opened", "0 open at the end"),
            ("1 opened", "1 open at the end"),
            ("2 opened", "3 open at the end"),
            ("1 opened", "4 open at the end"),
        ]
        assert page.ask("document.querySelector('.month:nth-child(11) a').getAttribute('href')") == (
            "#opened=2026-10-01/2026-10-31"
        )
        assert "Choose a month" in page.text("#streets-view .hint")
        page.page.emulate_media(media="print")
        for paper, way, width, height in (
            ("A4", "portrait", 188, 275), ("A4", "landscape", 275, 188),
            ("Letter", "portrait", 193.9, 257.4), ("Letter", "landscape", 257.4, 193.9),
        ):  # fmt: skip
            page.page.set_viewport_size({"width": int(width / 25.4 * 96), "height": int(height / 25.4 * 96)})
            _print_what_is_shown(page, paper, way)
            # the whole year is on one sheet, and nothing on it asks for a click
            assert page.ask("document.querySelector('#paper-page').offsetHeight") < height / 25.4 * 96 - 11
            assert "Choose" not in page.text("#paper-page")
            page.ask("void window.dispatchEvent(new Event('afterprint'))")
        page.page.emulate_media(media=None)
        page.page.set_viewport_size({"width": 1400, "height": 900})
        # with a filter, the small maps go to the cores that match: alone, the core in the east is in the middle
        assert page.ask(WHERE_OPEN)[0] > 0.6
        day = "Date.UTC(2026, 9, 3) / 86400000"
        page.ask(f"kerfbook.filter.askAll({{ opened: [{day}, {day}] }})")
        page.wait_for("document.querySelector('.month:nth-child(11) .key-opened').textContent === '1 opened'")
        assert page.ask(WHERE_OPEN) == pytest.approx([0.5, 0.5], abs=0.02)
        page.ask("kerfbook.filter.askAll({})")
        page.page.click(".month:nth-child(11) a")
        assert page.ask("kerfbook.filter.total") == 2
        assert page.ask("document.querySelector('#map-area').hidden") is False
        page.page.click("#as-streets")
        # back where one was, with the filter
        assert page.ask("document.querySelectorAll('.month').length") == 12
        assert page.text(".month:nth-child(12) .key-opened") == "0 opened"
        assert page.complaints == []


def test_hostile_names_stay_text_and_a_file_without_chainage_has_no_street_sheet(tmp_path):
    roads = view().segments.assign(street=HOSTILE)
    hostile = saved(
        tmp_path, view(cores=CUT.assign(street=HOSTILE, core_id=HOSTILE), findings=FINDINGS[:0], segments=roads)
    )
    with open_page(hostile, fragment="#view=streets") as page:
        wait_until_drawn(page)
        assert "<img src=x" in page.text(".street h3")
        page.page.focus(".strip")
        assert "<img src=x" in page.text(".strip-caption")
        assert page.ask("window.ran === undefined && !document.querySelector('#streets-view img')")
        # both segments are one street now
        assert page.ask("document.querySelectorAll('.street').length") == 1
    without = saved(tmp_path, view(cores=CUT.drop(columns="chainage_m"), findings=FINDINGS[:0]))
    with open_page(without, fragment="#view=streets") as page:
        wait_until_drawn(page)
        assert page.ask(
            "[document.querySelector('#as-streets').hidden, document.querySelector('#map-area').hidden]"
        ) == [True, False]
