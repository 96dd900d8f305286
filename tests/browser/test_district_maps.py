"""The page of all districts and the maps that it leads to, in a real browser."""

import pytest

from pipeline.publish.map.by_district import IN_FOLDER
from pipeline.publish.map.pages import map_pages
from tests.browser.browser import open_page
from tests.browser.town import card, rows_shown, view, wait_until_drawn


@pytest.fixture
def index(tmp_path):
    """The page of all districts, its maps in a folder beside it."""
    (tmp_path / "maps").mkdir()
    for name, page in map_pages(view(), "map.html", IN_FOLDER):
        (tmp_path / name).write_text(page, "utf-8")
    return tmp_path / "map.html"


def test_a_click_in_the_picture_or_the_table_opens_the_map_of_the_district_and_a_link_leads_back(index):
    with open_page(index) as page:
        page.page.click("svg a[data-choice='=Saltmarsh'] path")
        wait_until_drawn(page)
        assert "Saltmarsh" in page.text("h1")
        assert rows_shown(page) == [3]
        page.page.click(".name a")
        page.wait_for("location.pathname.endsWith('map.html')")
        page.page.click("table a[data-choice='']")
        wait_until_drawn(page)
        assert "no district" in page.text("h1")
        assert page.complaints == []


def test_what_a_link_asks_for_is_carried_on_to_each_map(index):
    with open_page(index, fragment="#status=%3Dflagged") as page:
        assert page.ask("!document.getElementById('carried').hidden")
        page.page.click("table a[data-choice='=Old Harbour']")
        wait_until_drawn(page)
        assert rows_shown(page) == [1]
        assert page.complaints == []


def test_without_a_choice_nothing_is_said_of_one(index):
    with open_page(index) as page:
        assert page.ask("document.getElementById('carried').hidden")
        page.ask("void (location.hash = '#status=%3Dpending')")
        page.wait_for("!document.getElementById('carried').hidden")
        assert page.ask("document.querySelector('a.to-map').getAttribute('href').endsWith('#status=%3Dpending')")


@pytest.mark.parametrize(
    ("fragment", "file", "rows"),
    [("#district=%3DSaltmarsh", "saltmarsh", [3]), ("#district=", "no-district", [4])],
)
def test_a_choice_of_one_district_opens_its_map_at_once(index, fragment, file, rows):
    with open_page(index, fragment=fragment) as page:
        page.wait_for(f"location.pathname.endsWith('/maps/{file}.html')")
        wait_until_drawn(page)
        assert rows_shown(page) == rows
        assert page.complaints == []


def test_a_link_to_one_core_opens_its_card_in_the_map_of_its_district(index):
    with open_page(index.parent / "maps" / "old-harbour.html", fragment="#core=C-2") as page:
        wait_until_drawn(page)
        assert card(page).startswith("C-2")
