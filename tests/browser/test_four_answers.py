"""The first screen: four answers of the road authority and district that are chosen, each within two clicks."""

import re

import pandas as pd
import pytest

from tests.browser.authority_town import authority_cores, authority_town
from tests.browser.browser import OpenPage, open_page
from tests.browser.town import WEST, findings, rows_shown, wait_until_drawn


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
    "open": ("4", "of 6 cores, in 2 streets, 1 unknown", ["C-1", "C-4", "C-2", "C-3"]),
    "urgent": ("3", "2 hazards, 1 overdue, 3 open", ["C-1", "C-4", "C-2"]),
    "works": ("3", "2 open, 1 in protected streets", ["C-4", "C-5", "C-3"]),
    "changed": ("3", "Opened: 2, Closed: 1", ["C-1", "C-4", "C-5"]),
}


def test_each_of_the_four_questions_is_answered_and_listed_with_one_click_and_in_the_table_with_two(tmp_path):
    with open_page(authority_town(tmp_path)) as page:
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
        links = (("urgent", "1 overdue", [2]), ("works", "2 open", [3, 4]), ("open", "1 unknown", [6]))
        for answer, link, rows in links:
            page.page.click(f"[data-answer={answer}] .line a:has-text('{link}')")
            page.wait_for(f"kerfbook.filter.total === {len(rows)}")
            assert rows_shown(page) == rows
        assert page.complaints == []


def test_the_titles_of_the_answers_have_one_line_each_at_1280_pixels(tmp_path):
    lines = (
        "[...document.querySelectorAll('.answer .title')].map((title) => { const all = document.createRange();"
        "all.selectNodeContents(title); return new Set([...all.getClientRects()].map(({ top }) => top)).size; })"
    )
    many = pd.concat([authority_cores()] * 1000, ignore_index=True).assign(row=range(1, 6001))
    for reader in ("authority", "utility"):
        path = authority_town(tmp_path, cores=many, unplaced=1000, reader=reader)
        with open_page(path, 1280, 800) as page:
            wait_until_drawn(page)
            assert page.text("[data-answer=open] .figure") == "4,000"
            assert page.ask(lines) == [1, 1, 1, 1]
            # as high as before it was filled: otherwise the map would be drawn twice
            assert page.ask("document.querySelector('#answers').offsetHeight") == 94


def test_the_choice_of_authority_and_district_narrows_counts_map_and_link(tmp_path):
    path = authority_town(tmp_path)
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
    path = authority_town(
        tmp_path, **bare, cores=authority_cores().drop(columns=["road_authority", "urgency"]), districts=None
    )
    with open_page(path) as page:
        wait_until_drawn(page)
        assert _answers(page) == {
            "open": ["4", "of 6 cores, in 2 streets, 1 unknown"],
            "urgent": ["–", "Urgency was not handed over"],
            "works": ["–", "No planned works were handed over"],
            "changed": ["–", "No earlier audit to compare with"],
        }
        # the count of open cores, and of those of unknown state
        assert page.ask("document.querySelectorAll('.answer a').length") == 2
        assert page.ask("document.querySelector('#works').hidden")


def test_where_no_state_is_known_no_core_is_counted_as_open(tmp_path):
    """Without a column of reinstatements "0 open" would be read as "all are reinstated"."""
    path = authority_town(tmp_path, cores=authority_cores().assign(state="unknown"))
    with open_page(path) as page:
        wait_until_drawn(page)
        assert _answers(page)["open"] == ["–", "of 6 cores, state unknown for all"]
        page.page.click("[data-answer=open] .line a")
        page.wait_for("kerfbook.filter.total === 6")


@pytest.mark.parametrize("count", [0, 1])
def test_no_core_and_one_core_with_names_of_eighty_letters_fit_the_band(tmp_path, count):
    name = "Donaudampfschifffahrtsgesellschaftsstraßenverwaltung" * 2
    few = authority_cores().head(count).assign(road_authority=name[:80], street=name[:80])
    none = {"changes": pd.DataFrame({"row": [], "change": []}), "in_works": pd.DataFrame({"row": [], "works_id": []})}
    path = authority_town(tmp_path, cores=few, findings=findings().assign(urgency=[]), unplaced=0, **none)
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
    with open_page(authority_town(tmp_path)) as page:
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
        page.wait_for("document.querySelector('#list-words').textContent.startsWith('Works: ')")
        assert page.text("#list-words") == "Works: Resurfacing of Dory Lane (planned works, 1 March 2027)"
