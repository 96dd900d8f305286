"""The demo's own pages, opened from disk with the network off."""

import re

import pytest

from pipeline.publish.looks import STATUS_LOOKS
from tests.browser.browser import open_page


@pytest.mark.parametrize("name", ["map.html", "report.html"])
@pytest.mark.parametrize("width", [1280, 390])
def test_a_page_opens_without_a_request_or_a_complaint(demo, name, width):
    with open_page(demo.folder / name, width, 800) as opened:
        opened.wait_for("document.readyState === 'complete'")
        assert opened.complaints == []
        assert opened.requests == [(demo.folder / name).resolve().as_uri()]
        assert opened.ask("document.title").startswith("Harbour Vale 2026")
        # nothing runs out of the side of the screen
        assert opened.ask("document.documentElement.scrollWidth <= window.innerWidth")


def test_map_and_report_count_what_the_run_counted(demo):
    for name in ("map.html", "report.html"):
        with open_page(demo.folder / name) as opened:
            if name == "map.html":
                opened.wait_for("performance.getEntriesByName('all-read').length > 0")
            text = opened.ask("document.body.innerText")
            for status in STATUS_LOOKS:
                assert re.search(rf"\b{demo.account[status]}\b", text), (name, status)


def test_the_report_prints(demo):
    with open_page(demo.folder / "report.html") as opened:
        pdf = opened.as_pdf()
    assert pdf.startswith(b"%PDF")
    assert len(re.findall(rb"/Type /Page\b", pdf)) > 2
