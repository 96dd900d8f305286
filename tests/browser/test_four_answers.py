"""The first screen: four answers of the road authority and district that are chosen, each within two clicks."""

import datetime as dt
import re
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from tests.browser.browser import OpenPage, open_page
from tests.browser.town import EAST, MIDDLE, STREET, WEST, cores, findings, rows_shown, saved, view, wait_until_drawn

# row: authority, district, street, state, urgency (of a finding), permit and the day it expires
TABLE = [
    ("Vale County", "Old Harbour", "Capstan Street", "open", "hazard", "P-1", "2026-11-24"),
    ("Vale County", "Old Harbour", "Capstan Street", "plated", "overdue", "P-2", "2026-11-25"),
    ("Vale County", "Old Harbour", "Dory Lane", "interim", None, "P-2", "2026-11-25"),
    ("Port Trust", "Saltmarsh", "Dory Lane", "open", "hazard", "P-3", None),
    ("Port Trust", "Saltmarsh", "Dory Lane", "back", "quality", None, None),
    (None, None, None, "unknown", None, None, None),
]
STATUS = {"back": "reinstated", "unknown": "flagged"}
RULE = {"hazard": "open-uncovered", "overdue": "permit-expired", "quality": "flush-out-of-tolerance"}


def _cores() -> pd.DataFrame:
    rows = []
    for n, (_, district, street, state, _, _, _) in enumerate(TABLE):
        placed = {} if street is None else {"lon": WEST + 0.001 * (n + 1), "lat": STREET}
        done = {"reinstated_at": "2026-11-02"} if state == "back" else {}
        segment = None if street is None else f"HV-{1 + (street == 'Dory Lane')}"
        rows.append(
            {"status": STATUS.get(state, "pending"), "district": district, "street": street, "segment_id": segment}
            | placed
            | done
        )
    columns = {
        "road_authority": 0,
        "state": 3,
        "urgency": 4,
        "permit_no": 5,
        "permit_expires_on": 6,
    }
    return cores(*rows).assign(**{name: [row[at] for row in TABLE] for name, at in columns.items()})


def _town(folder: Path, **changes: object) -> Path:
    found = [(n, RULE[row[4]], "fail", "A sentence.") for n, row in enumerate(TABLE, start=1) if row[4]]
    works = gpd.GeoDataFrame(
        {
            "works_id": ["W1", "W2"],
            "kind": ["planned", "protected"],
            "name": ["Resurfacing of Dory Lane", None],
            "on": ["2027-03-01", None],
            "until": [None, "2027-06-30"],
        },
        geometry=[shapely.box(MIDDLE, STREET, EAST, STREET + 0.001), shapely.box(WEST, STREET, MIDDLE, STREET + 0.001)],
        crs=4326,
    )
    usual = {
        "cores": _cores(),
        "findings": findings(*found).assign(urgency=[row[4] for row in TABLE if row[4]]),
        "unplaced": 1,
        "reader": "authority",
        "since": dt.date(2026, 10, 25),
        "changes": pd.DataFrame({"row": [1, 4, 5, 5], "change": ["opened", "opened", "closed", "cleared finding"]}),
        "works": works,
        "in_works": pd.DataFrame({"row": [3, 4, 5, 1], "works_id": ["W1", "W1", "W1", "W2"]}),
        "short_words": {"street": "st", "lane": "ln"},
    }
    return saved(folder, view(**(usual | changes)))


def _answers(page: OpenPage) -> dict[str, list[str]]:
    return page.ask(
        "Object.fromEntries([...document.querySelectorAll('.answer')].map((a) => [a.dataset.answer,"
        "[a.querySelector('.figure').textContent, a.querySelector('.line').textContent]]))"
    )


def _listed(page: OpenPage) -> list[str]:
    page.page.wait_for_timeout(200)
    return page.ask("[...document.querySelectorAll('#list-rows .row-id')].map((e) => e.textContent)")


# the answer, its count and the line below it; the rows that its link shows, the most urgent first in the list
QUESTIONS = {
    "open": ("4", "of 6 cores, in 2 streets", ["C-1", "C-4", "C-2", "C-3"]),
    "urgent": ("3", "2 hazards, 1 overdue", ["C-1", "C-4", "C-2"]),
    "works": ("3", "1 in protected streets", ["C-4", "C-5", "C-3"]),
    "changed": ("3", "Opened: 2, Cleared finding: 1", ["C-1", "C-4", "C-5"]),
}


def test_each_of_the_four_questions_is_answered_and_listed_with_one_click_and_in_the_table_with_two(tmp_path):
    with open_page(_town(tmp_path)) as page:
        wait_until_drawn(page)
        assert _answers(page) == {name: [count, line] for name, (count, line, _) in QUESTIONS.items()}
        for name, (_, _, ids) in QUESTIONS.items():
            page.page.click(f"[data-answer={name}] a.main")
            page.wait_for(f"document.querySelector('[data-answer={name}] a.main').ariaCurrent === 'true'")
            assert page.ask("document.querySelectorAll('a.main[aria-current]').length") == 1
            assert _listed(page) == ids, name
            assert page.text("#list-title") == f"{len(ids)} cores found"
            page.page.click("#list-buttons button")
            in_table = page.ask("[...document.querySelectorAll('.cores-table tbody th')].map((e) => e.textContent)")
            assert sorted(in_table) == sorted(ids)
            # the counts are of all cores, whatever is filtered
            assert _answers(page)[name][0] == QUESTIONS[name][0]
            page.page.click("#as-map")
        page.page.click("[data-answer=urgent] .line a:has-text('1 overdue')")
        page.wait_for("kerfbook.filter.total === 1")
        assert rows_shown(page) == [2]
        assert page.complaints == []


def test_the_choice_of_authority_and_district_narrows_counts_map_and_link(tmp_path):
    path = _town(tmp_path)
    with open_page(path) as page:
        wait_until_drawn(page)
        choices = "[...document.querySelectorAll('[data-scope={}] option:not([hidden])')].map((o) => o.textContent)"
        assert page.ask(choices.format("authority")) == [
            "All road authorities",
            "Port Trust",
            "Vale County",
            "No road authority named",
        ]
        page.page.select_option("[data-scope=authority]", label="Port Trust")
        assert {name: found[0] for name, found in _answers(page).items()} == {
            "open": "1",
            "urgent": "1",
            "works": "2",
            "changed": "2",
        }
        assert rows_shown(page) == [4, 5]
        # the middle of these two
        assert page.ask("[map_kerfbook.getCenter().lng, map_kerfbook.getZoom()]") == pytest.approx(
            [WEST + 0.0045, 18], abs=1e-4
        )
        page.page.click("[data-answer=open] a.main")
        page.wait_for("kerfbook.filter.total === 1")
        assert rows_shown(page) == [4]
        href = page.ask("document.querySelector('[data-answer=works] a.main').getAttribute('href')")
        page.page.select_option("[data-scope=district]", label="Old Harbour")
        # no core of theirs is there: every answer is nought, and nothing breaks
        assert {found[0] for found in _answers(page).values()} == {"0"}
        assert page.complaints == []
    with open_page(path, fragment=href) as page:
        wait_until_drawn(page)
        assert rows_shown(page) == [4, 5]
        assert (
            page.ask("document.querySelector('[data-scope=authority]').selectedOptions[0].textContent") == "Port Trust"
        )
        assert page.ask("document.querySelector('[data-answer=works] a.main').ariaCurrent") == "true"


def test_an_answer_without_its_source_says_so_and_is_no_link(tmp_path):
    bare = {"since": None, "changes": None, "works": None, "in_works": None}
    path = _town(tmp_path, **bare, cores=_cores().drop(columns=["road_authority", "urgency"]), districts=None)
    with open_page(path) as page:
        wait_until_drawn(page)
        assert _answers(page) == {
            "open": ["4", "of 6 cores, in 2 streets"],
            "urgent": ["–", "Urgency was not handed over"],
            "works": ["–", "No planned works were handed over"],
            "changed": ["–", "No run before this one to compare with"],
        }
        assert page.ask("document.querySelectorAll('.answer a').length") == 1
        assert page.ask("document.querySelector('#works').hidden")


@pytest.mark.parametrize("count", [0, 1])
def test_no_core_and_one_core_with_names_of_eighty_letters_fit_the_band(tmp_path, count):
    name = "Donaudampfschifffahrtsgesellschaftsstraßenverwaltung" * 2
    few = _cores().head(count).assign(road_authority=name[:80], street=name[:80])
    none = {"changes": pd.DataFrame({"row": [], "change": []}), "in_works": pd.DataFrame({"row": [], "works_id": []})}
    path = _town(tmp_path, cores=few, findings=findings().assign(urgency=[]), unplaced=0, **none)
    for width in (1280, 390):
        with open_page(path, width=width) as page:
            wait_until_drawn(page)
            assert _answers(page)["open"][0] == str(count)
            # with nothing to choose from, nothing is offered
            assert page.ask("document.querySelector('#scope').hidden")
            wide = page.ask("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            assert wide == 0
            assert page.complaints == []


def test_the_works_are_listed_with_their_cores_by_state_and_filter_when_pressed(tmp_path):
    with open_page(_town(tmp_path)) as page:
        wait_until_drawn(page)
        page.page.click("#works summary")
        page.wait_for("document.querySelector('#works [data-works]')")
        rows = page.ask("[...document.querySelectorAll('#works [data-works]')].map((b) => b.innerText)")
        assert [re.sub(r"\s+", " ", row) for row in rows] == [
            "Resurfacing of Dory Lane planned works, 1 March 2027 2 open, 1 reinstated",
            "W2 protected street, 30 June 2027 1 open",
        ]
        page.page.click("[data-works=W1]")
        assert rows_shown(page) == [3, 4, 5]
        assert page.text("#list-words") == "Works: Resurfacing of Dory Lane (planned works, 1 March 2027)"
