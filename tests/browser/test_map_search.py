"""The search field: cores by id, streets by name."""

from pathlib import Path

from tests.browser.browser import open_page
from tests.browser.town import (
    MIDDLE,
    STREET,
    card,
    cores,
    findings,
    saved,
    view,
    wait_until_drawn,
)


def test_search_finds_a_core_by_id_and_a_street_by_name(tmp_path: Path) -> None:
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.page.fill("#query", "c-2")
        page.page.press("#query", "Enter")
        assert card(page).startswith("C-2")
        page.page.fill("#query", "dory")
        assert page.text("#results .row-id") == "Dory Lane"
        page.page.press("#query", "Enter")
        page.wait_for(f"map_kerfbook.getBounds().contains([44.8015, {MIDDLE}])")


def test_search_puts_the_exact_match_first_then_matches_at_the_beginning_then_the_shorter(tmp_path):
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


def test_permits_that_differ_in_capitals_or_hyphens_only_are_several(tmp_path):
    placed = cores(*[{"lon": -82.003 + n / 1000, "lat": STREET} for n in range(4)])
    placed["permit_no"] = ["AB-12", "ab12", "AB-12", "X-1"]
    with open_page(saved(tmp_path, view(cores=placed, findings=findings(), unplaced=0))) as page:
        wait_until_drawn(page)
        page.page.fill("#query", "AB12")
        rows = "[...document.querySelectorAll('#results .permit_no .row-id')].map((e) => e.textContent).sort()"
        assert page.ask(rows) == ["AB-12", "ab12"]
