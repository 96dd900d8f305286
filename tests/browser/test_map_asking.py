"""What a reader asks of the map: filters, the link to a view, the list as CSV, the table, units."""

import csv
import io
import re

import numpy as np
import pandas as pd
import pytest

from tests.browser.browser import open_page
from tests.browser.town import STREET, card, colour_at, cores, findings, saved, spot, view, wait_until_drawn

# opened and reinstated; a dash is none
FIVE = cores(
    {"status": "flagged", "lon": -82.003, "lat": STREET, "opened_on": "2026-01-10"},
    {
        "status": "pending",
        "lon": -82.001,
        "lat": STREET,
        "opened_on": "2026-02-10",
        "surface": "concrete",
        "shade": "pale",
    },
    {
        "status": "reinstated",
        "lon": -81.998,
        "lat": STREET,
        "district": "Saltmarsh",
        "opened_on": "2026-02-01",
        "reinstated_at": "2026-03-01",
    },
    {
        "status": "reinstated",
        "lon": -81.997,
        "lat": STREET,
        "district": "Saltmarsh",
        "opened_on": "2026-02-20",
        "reinstated_at": "2026-04-01",
    },
    {"status": "flagged", "district": None, "opened_on": None},
)
WRONG = findings(
    (1, "open-too-long", "fail", "Open for 319 days: reinstate it."),
    (1, "road-uncertain", "check", "Settle the street."),
    (2, "road-uncertain", "check", "Settle the street."),
    (5, "position-missing", "fail", "No coordinates."),
    (5, "position-missing", "fail", "No coordinates, twice."),
)
CASES = {
    "status": ("new Set(['pending', 'reinstated'])", [2, 3, 4]),
    "severity": ("new Set(['check'])", [1, 2]),
    "rule": ("new Set(['position-missing', 'open-too-long'])", [1, 5]),
    "district": ("new Set(['Saltmarsh', null])", [3, 4, 5]),
    "surface": ("new Set(['concrete'])", [2]),
    "shade": ("new Set(['dark'])", [1, 3, 4, 5]),
    # 20485 is 1 February 2026, 20504 the 20th: both days count
    "opened": ("[20485, 20504]", [2, 3, 4]),
    "reinstated": ("[null, 20514]", [3]),
    # 1 March 2026 is day 20513: the core put back that day is no longer open
    "open": ("20513", [1, 2, 4]),
}


def five(folder):
    return saved(folder, view(cores=FIVE, findings=WRONG))


def rows_shown(page):
    return sorted(page.ask("[...kerfbook.filter.places()].map((i) => kerfbook.attributes.row(i))"))


def test_every_question_lets_through_what_answers_it(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        for question, (wanted, rows) in CASES.items():
            page.ask(f"kerfbook.filter.askAll({{ {question}: {wanted} }})")
            assert rows_shown(page) == rows, question
        page.ask("kerfbook.filter.askAll({ severity: new Set([null]) })")
        assert rows_shown(page) == [3, 4]
        page.ask(
            "kerfbook.filter.askAll({ status: new Set(['flagged']), shade: new Set(['dark']), opened: [0, null] })"
        )
        assert rows_shown(page) == [1]
        assert page.complaints == []


def test_the_counts_of_a_question_follow_the_other_questions_and_not_itself(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        page.ask("kerfbook.filter.askAll({ district: new Set(['Saltmarsh']), surface: new Set(['asphalt']) })")
        counted = "Object.fromEntries(kerfbook.filter.counts({0!r}))"
        assert page.ask(counted.format("district")) == {"Old Harbour": 1, "Saltmarsh": 2, "null": 1}
        assert page.ask(counted.format("surface")) == {"asphalt": 2, "concrete": 0}
        page.ask("kerfbook.filter.askAll({})")
        # a core with two findings of a rule is one core
        assert page.ask(counted.format("rule")) == {
            "open-too-long": 1,
            "road-uncertain": 2,
            "position-missing": 1,
            "null": 2,
        }


def test_the_filter_agrees_with_pandas_on_many_cores(tmp_path):
    random = np.random.default_rng(5)
    many = pd.concat([FIVE] * 200, ignore_index=True)
    many["row"] = np.arange(1, 1001)
    many["status"] = random.choice(["flagged", "pending", "reinstated"], 1000)
    many["district"] = random.choice(["Saltmarsh", "Old Harbour", "Quay"], 1000)
    many["opened_on"] = pd.Series(np.datetime64("2026-01-01") + random.integers(0, 200, 1000)).dt.strftime("%Y-%m-%d")
    expected = many[
        many["status"].isin(["pending"])
        & many["district"].isin(["Quay", "Saltmarsh"])
        & many["opened_on"].between("2026-02-01", "2026-05-01")
    ]
    with open_page(saved(tmp_path, view(cores=many, findings=findings(), unplaced=200))) as page:
        wait_until_drawn(page)
        page.ask(
            "location.hash = '#status=%3Dpending&district=%3DQuay&district=%3DSaltmarsh&opened=2026-02-01/2026-05-01'"
        )
        page.wait_for("kerfbook.filter.isAsking()")
        assert rows_shown(page) == sorted(expected["row"])
        assert page.text("#matching") == f"{len(expected)} of 1,000 cores match"


def test_ticking_filters_the_map_the_counts_and_the_labels(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        page.page.click("[data-question=surface] summary")
        page.page.click("[data-question=surface] label:has-text('concrete')")
        assert page.text("#matching") == "1 of 5 cores matches"
        assert colour_at(page, -82.001, STREET) is not None
        assert colour_at(page, -82.003, STREET) is None
        counts = "[...document.querySelectorAll('#legend .count')].map((c) => c.textContent)"
        assert page.ask(counts) == ["0", "1", "0"]
        assert page.text(".district:nth-child(2) .tally") == "0 Flagged 0 Pending 0 Reinstated "
        assert page.text("#in-view").startswith("In view: 0 flagged, 1 pending, 0 reinstated.")
        page.page.click("#ask-buttons button")
        assert page.ask(counts) == ["2", "1", "2"]


def test_the_slider_shows_what_was_open_on_a_day(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        assert page.ask("[document.querySelector('#open-day').min, document.querySelector('#open-day').max]") == [
            "20463",
            "20782",
        ]
        page.ask(
            "(() => { const s = document.querySelector('#open-day'); s.value = 20500; s.dispatchEvent(new Event('input')); })()"
        )
        page.wait_for("kerfbook.filter.wanted.open === 20500")
        assert rows_shown(page) == [1, 2, 3]
        assert page.text(".open-on output") == "16 February 2026"


def test_the_slider_ends_at_the_date_of_the_map_and_a_wrong_century_does_not_stretch_it(tmp_path):
    wild = FIVE.assign(opened_on=["1926-01-10", "2026-02-10", None, "2126-01-01", None])
    with open_page(saved(tmp_path, view(cores=wild, findings=WRONG))) as page:
        wait_until_drawn(page)
        # 25 November 2026 is day 20782; 20 years are 7,305 days
        assert page.ask("[document.querySelector('#open-day').min, document.querySelector('#open-day').max]") == [
            str(20782 - 7305),
            "20782",
        ]


def test_the_link_reopens_place_filter_units_and_core(tmp_path):
    path = five(tmp_path)
    with open_page(path) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.003, STREET))
        card(page)
        page.ask("void kerfbook.map.setView([44.8005, -82.0025], 17.5, { animate: false })")
        page.page.click("#in-us")
        page.ask(
            "kerfbook.filter.askAll({ status: new Set(['flagged']), district: new Set([null, 'Old Harbour']), opened: [20000, null], rule: new Set(['open-too-long']) })"
        )
        page.wait_for("location.hash.includes('rule') && location.hash.includes('row=1')")
        fragment = page.ask("location.hash")
        assert page.complaints == []
    with open_page(path, fragment=fragment) as page:
        wait_until_drawn(page)
        assert "17.99 in across" in card(page)
        assert card(page).startswith("C-1")
        assert rows_shown(page) == [1]
        lat, lon, zoom = page.ask(
            "[kerfbook.map.getCenter().lat, kerfbook.map.getCenter().lng, kerfbook.map.getZoom()]"
        )
        assert (lat, lon, zoom) == pytest.approx((44.8005, -82.0025, 17.5), abs=2e-3)
        page.page.wait_for_timeout(400)
        assert page.ask("kerfbook.filter.wanted.district.has(null)")
        assert page.requests[0].endswith("map.html") or "#" in page.requests[0]
        assert len(page.requests) == 1


def test_the_page_does_not_write_over_an_address_that_it_has_not_followed_yet(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        # as when it is typed, its event still to come, while the page is about to write its own
        page.ask("void history.replaceState(null, '', '#status=%3Dpending')")
        page.ask("void kerfbook.map.panBy([30, 0], { animate: false })")
        page.page.wait_for_timeout(500)
        assert page.ask("location.hash") == "#status=%3Dpending"
        page.ask("void window.dispatchEvent(new HashChangeEvent('hashchange'))")
        assert rows_shown(page) == [2]


@pytest.mark.parametrize(
    "fragment",
    [
        "#at=x/y/z",
        "#at=17/95/400&row=99999&units=roods",
        "#opened=never/2026-13-45",
        "#%E0%A4%A",
        "#status=%3Dlost&open=x&view=chair",
    ],
)
def test_a_link_that_says_nonsense_opens_the_map_all_the_same(tmp_path, fragment):
    with open_page(five(tmp_path), fragment=fragment) as page:
        wait_until_drawn(page)
        assert page.complaints == []
        assert page.ask("kerfbook.map.getZoom() > 10")


def test_the_list_is_saved_as_csv_without_formulas(tmp_path):
    wild = FIVE.assign(
        street=["=1+1", "+2", "-3+4", "@four", '\tfive\r\n"quoted", and more'],
        core_id=['=HYPERLINK("x")', "'=2", "－3", "-4,50", "C-5"],
        surface=["''@x", "'s", "+1.2.3", "-٣", "＝１"],
    )
    with open_page(saved(tmp_path, view(cores=wild, findings=WRONG)), accept_downloads=True) as page:
        wait_until_drawn(page)
        with page.page.expect_download() as waited:
            page.page.click("#ask-buttons button:nth-of-type(2)")
        saved_as = tmp_path / "list.csv"
        waited.value.save_as(saved_as)
        assert waited.value.suggested_filename == "cores-2026-11-25.csv"
        text = saved_as.read_bytes().decode("utf-8-sig")
        rows = list(csv.DictReader(io.StringIO(text, newline="")))
        assert [row["street"] for row in rows] == ["'=1+1", "+2", "'-3+4", "'@four", '\'\tfive\r\n"quoted", and more']
        assert [row["core_id"] for row in rows] == ['\'=HYPERLINK("x")', "''=2", "'－3", "-4,50", "C-5"]
        assert [row["surface"] for row in rows] == ["'''@x", "'s", "'+1.2.3", "'-٣", "'＝１"]
        # a number is a number, below nought too
        assert float(rows[0]["lon"]) == pytest.approx(-82.003, abs=1e-6)
        assert rows[0]["findings"] == "open-too-long;road-uncertain"
        assert [rows[3]["opened_on"], rows[3]["reinstated_at"], rows[4]["lat"]] == ["2026-02-20", "2026-04-01", ""]
        page.ask("kerfbook.filter.ask('status', new Set(['pending']))")
        with page.page.expect_download() as waited:
            page.page.click("#ask-buttons button:nth-of-type(2)")
        waited.value.save_as(saved_as)
        # a head and one core
        assert saved_as.read_bytes().count(b"\r\n") == 2
        assert page.complaints == []


def test_coordinates_are_copied(tmp_path):
    with open_page(five(tmp_path), permissions=["clipboard-read", "clipboard-write"]) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.003, STREET))
        card(page)
        page.page.click(".leaflet-popup .copy")
        page.wait_for("document.querySelector('#said').textContent.startsWith('Copied')")
        found = re.search(r"Copied: (\S+), (\S+)", page.text("#said"))
        assert [float(part) for part in found.groups()] == pytest.approx([STREET, -82.003], abs=1e-6)


def test_units_of_the_reader_are_exact(tmp_path):
    """457.2 mm is 18 in by definition; 3.048 m is 10 ft; 3.785411784 L one US gallon; 0.45359237 kg one pound."""
    one = {
        "lon": -82.003,
        "lat": STREET,
        "diameter_mm": 457.2,
        "chainage_m": 304.8,
        "grout_l": 37.9,
        "grout_kg": 45.4,
        "water_l_needed": np.nan,
    }
    with open_page(saved(tmp_path, view(cores=cores(one), findings=findings(), unplaced=0))) as page:
        wait_until_drawn(page)
        page.page.mouse.click(*spot(page, -82.003, STREET))
        assert "457.2 mm across, 180 mm deep" in card(page)
        page.page.click("#in-us")
        said = card(page)
        assert "18 in across, 7.09 in deep" in said
        assert "1,000 ft along the segment" in said
        # 37.9 / 3.785411784 = 10.0121; 45.4 / 0.45359237 = 100.09
        assert "10.01 US gal, 100.1 lb" in said
        assert "Water needednot known" in said


def test_the_table_holds_the_same_cores_sorted_and_filtered(tmp_path):
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        page.page.click("#as-table")
        ids = "[...document.querySelectorAll('.cores-table tbody th')].map((h) => h.textContent)"
        assert page.ask(ids) == ["C-1", "C-2", "C-3", "C-4", "C-5"]
        page.page.click("[data-column=opened] button")
        page.page.click("[data-column=opened] button")
        # no date stands last whichever way
        assert page.ask(ids) == ["C-4", "C-2", "C-3", "C-1", "C-5"]
        assert page.ask("document.querySelector('[data-column=opened]').getAttribute('aria-sort')") == "descending"
        page.ask("kerfbook.filter.ask('status', new Set(['flagged']))")
        assert page.ask(ids) == ["C-1", "C-5"]
        assert page.text(".table-steps p") == "1 to 2 of 2 cores"
        page.page.click(".cores-table tbody tr:nth-child(2) button")
        assert "No coordinates, twice." in page.text("dialog")
        page.page.keyboard.press("Escape")
        page.page.click(".cores-table tbody tr:nth-child(1) button")
        page.page.click("dialog button:has-text('Show on the map')")
        assert card(page).startswith("C-1")


def test_rows_are_ordered_by_key_either_way_equals_as_they_stood_and_what_has_none_last(tmp_path):
    """Against Python's sort, which keeps equals too; with keys so far apart that key and row do not fit one double."""
    random = np.random.default_rng(8)
    with open_page(five(tmp_path)) as page:
        wait_until_drawn(page)
        for spread in (3, 10**6, 10**14):
            keys = [int(key) if key > -spread * 0.8 else None for key in random.integers(-spread, spread, 300)]
            places = random.permutation(300).tolist()
            for down in (False, True):
                found = page.ask(
                    f"(() => {{ const keys = {keys}.map((key) => key ?? NaN);".replace("None", "null")
                    + f"return [...KerfbookOrder.byKey({places}, (i) => keys[i], {str(down).lower()})]; }})()"
                )
                sign = -1 if down else 1
                assert found == sorted(places, key=lambda i: (keys[i] is None, sign * (keys[i] or 0)))
        assert page.ask("[...KerfbookOrder.byKey([], (i) => i), ...KerfbookOrder.byKey([2, 1], () => NaN)]") == [2, 1]


def test_search_puts_the_whole_word_first_then_what_begins_so_then_the_shorter(tmp_path):
    ids = [f"A-{n}" for n in range(1, 900)] + ["17", "B-17", "17-A", "x0017"]
    many = cores(*[{"lon": -82.003, "lat": STREET, "core_id": name, "street": None} for name in ids])
    with open_page(saved(tmp_path, view(cores=many, findings=findings(), unplaced=0))) as page:
        wait_until_drawn(page)
        page.page.fill("#query", "17")
        found = page.ask("[...document.querySelectorAll('#results .row-id')].map((e) => e.textContent)")
        # of equal rank and length by their letters
        assert found == ["17", "17-A", "A-17", "B-17", "A-117", "A-170", "A-171", "A-172"]
        # ..., and the four written out
        assert page.text("#results .note").startswith("23 matches")


def test_an_unsure_core_is_hollow(tmp_path):
    with open_page(saved(tmp_path, view(cores=FIVE, findings=WRONG))) as page:
        wait_until_drawn(page)
        assert colour_at(page, -82.001, STREET) == [255, 255, 255]
        assert colour_at(page, -81.998, STREET) == [58, 167, 160]
