"""The map in Debian's Firefox: it opens, counts, filters, lists and prints as in Chromium, and asks for nothing."""

import os
import subprocess
from importlib import resources
from pathlib import Path

import pytest

from tests.browser.browser import open_page
from tests.browser.firefox import FIREFOX, open_in_firefox
from tests.browser.town import STREET, card, five, saved, spot, view, wait_until_drawn

_AXE = (resources.files("axe_playwright_python") / "axe.min.js").read_text("utf-8")
COUNTS = "[...document.querySelectorAll('#legend .count')].map((c) => c.textContent)"


@pytest.fixture(autouse=True)
def _firefox() -> None:
    if not Path(FIREFOX).exists() and not os.environ.get("CI"):
        pytest.skip(f"{FIREFOX} is not installed: apt-get install firefox-esr")


def violations(page):
    page.ask(f"void (() => {{ {_AXE} }})()")
    return page.ask(
        "axe.run(document, { resultTypes: ['violations'] }).then((found) => found.violations.map("
        "(v) => [v.id, v.nodes.map((n) => n.target.join(' ') + ' ' + n.failureSummary.slice(0, 200))]))"
    )


def test_the_page_counts_and_filters_as_in_chromium_and_asks_for_nothing(tmp_path):
    path = five(tmp_path)
    with open_page(path) as chromium:
        wait_until_drawn(chromium)
        expected = chromium.ask(COUNTS)
        chromium.ask("kerfbook.filter.ask('severity', new Set(['fail']))")
        chromium.wait_for("location.hash.includes('severity')")
        link = chromium.ask("location.hash")
        expected_filtered = chromium.ask(COUNTS)
    with open_in_firefox(path) as page:
        wait_until_drawn(page)
        assert page.ask(COUNTS) == expected == ["2", "1", "2"]
    with open_in_firefox(path, fragment=link) as page:
        wait_until_drawn(page)
        assert page.ask(COUNTS) == expected_filtered
        assert page.text("#matching") == "2 of 5 cores match"
        page.ask("void map_kerfbook.getContainer().focus()")
        page.press("Enter")
        assert card(page).startswith("C-1")
        page.press("Escape")
        page.wait_for("!document.querySelector('.leaflet-popup .card')")
        page.ask("void document.querySelector('#as-table').click()")
        ids = page.ask("[...document.querySelectorAll('.cores-table tbody th')].map((h) => h.textContent)")
        assert ids == ["C-1", "C-5"]
        assert page.requests == []
        assert page.complaints == []


def test_it_prints_the_map_with_its_counts(tmp_path):
    with open_in_firefox(five(tmp_path)) as page:
        wait_until_drawn(page)
        written = tmp_path / "map.pdf"
        written.write_bytes(page.as_pdf())
        text = subprocess.run(["pdftotext", "-layout", written, "-"], capture_output=True, text=True, check=True).stdout
        assert "Harbour Vale water" in text
        assert "Flagged" in text
        assert page.complaints == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_in_either_colour_scheme(tmp_path, scheme):
    with open_in_firefox(saved(tmp_path, view()), color_scheme=scheme) as page:
        wait_until_drawn(page)
        assert page.ask("matchMedia('(prefers-color-scheme: dark)').matches") == (scheme == "dark")
        page.click(*spot(page, -82.003, STREET))
        assert card(page).startswith("C-1")
        page.wait_for("Number(getComputedStyle(document.querySelector('.leaflet-popup')).opacity) > 0.99")
        assert violations(page) == []


def test_a_request_or_a_fault_of_a_page_is_recorded(tmp_path):
    """The lists that the other tests find empty are not empty by themselves."""
    page_file = tmp_path / "bad.html"
    page_file.write_text("<img src='https://tiles.harbourvale.example/1.png'><script>nothing.here</script>", "utf-8")
    with open_in_firefox(page_file) as page:
        assert page.requests == ["https://tiles.harbourvale.example/1.png"]
        assert page.complaints[-1] == "ReferenceError: nothing is not defined"
