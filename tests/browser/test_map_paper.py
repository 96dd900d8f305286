"""The printed map, checked on its canvas and in the PDF that Chromium makes."""

import re
import shutil
import subprocess

import pytest

from tests.browser.browser import open_page
from tests.browser.town import COLOURS, FINDINGS, STREET, cores, saved, view, wait_until_drawn


def test_the_printed_map_has_the_cores_in_their_colours(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.ask("void window.dispatchEvent(new Event('beforeprint'))")
        # from the middle of the paper, as many screen pixels away as the paper's own zoom makes of them
        painted = page.ask(
            f"""(() => {{ const map = map_kerfbook, paper = document.querySelector('#paper'), size = map.getSize();
            const from = map.latLngToContainerPoint([{STREET}, -82.003]).subtract(size.divideBy(2));
            const [w, h] = [paper.width / 3, paper.height / 3], scale = Math.min(w / size.x, h / size.y);
            const at = [(w / 2 + from.x * scale) * 3, (h / 2 + from.y * scale) * 3].map(Math.round);
            return [...paper.getContext('2d').getImageData(...at, 1, 1).data]; }})()"""
        )
        assert painted == [*COLOURS["flagged"], 255]
        page.ask("void window.dispatchEvent(new Event('afterprint'))")
        assert page.ask("document.querySelector('#paper')") is None


def test_the_table_prints_all_its_rows_and_no_map_that_is_not_on_the_screen(tmp_path):
    many = [{"status": "pending", "lon": -82.003, "lat": STREET} for _ in range(120)]
    shown = view(cores=cores(*many), findings=FINDINGS.iloc[:0], unplaced=0)
    with open_page(saved(tmp_path, shown)) as page:
        wait_until_drawn(page)
        page.ask("void document.querySelector('#as-table').click()")
        page.wait_for("document.querySelectorAll('.cores-table tbody tr').length === 50")
        page.ask("void window.dispatchEvent(new Event('beforeprint'))")
        assert page.ask("document.querySelector('#paper')") is None
        assert page.ask("document.querySelectorAll('.cores-table tbody tr').length") == 120
        assert page.text(".table-steps p") == "1 to 120 of 120 cores"
        page.ask("void window.dispatchEvent(new Event('afterprint'))")
        assert page.ask("document.querySelectorAll('.cores-table tbody tr').length") == 50
        assert page.complaints == []


def test_the_print_states_filter_date_counts_and_sources(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.ask("kerfbook.filter.askAll({ status: new Set(['flagged', 'pending']), opened: [20000, 20727] })")
        # the printer takes the page at once: what is only filled in by a later event would be missing
        orders = page.ask(
            "(window.dispatchEvent(new Event('beforeprint')), document.querySelector('.district:nth-child(2)').textContent)"
        )
        assert "61.25" in orders
        printed = page.text("#paper-page")
        assert "Harbour Vale water" in printed
        assert "As of 25 November 2026" in printed
        # 20000 and 20727 days after 1970-01-01
        assert (
            "Shown: Status: Flagged or Pending; Opened from 4 October 2024 to 1 October 2026. 3 of 4 cores match."
            in printed
        )
        assert "Flagged 2 (1 not on the map)" in printed
        assert "Data: Harbour Vale road centrelines" in printed


@pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="pdftotext is not installed: apt-get install poppler-utils"
)
def test_the_first_sheet_holds_all_of_the_map_on_a4_and_letter(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        for width, height in ((8.27, 11.69), (8.5, 11)):
            pdf = tmp_path / "map.pdf"
            pdf.write_bytes(page.as_pdf(paperWidth=width, paperHeight=height, preferCSSPageSize=False))
            first = subprocess.run(
                ["pdftotext", "-f", "1", "-l", "1", pdf, "-"], capture_output=True, text=True, check=True
            ).stdout
            assert re.search(r"Shown: All cores\. All 4 cores, no filter set", first)
            assert "District outlines" in first
            assert "Data: Harbour Vale road centrelines" in first
            assert b"/Subtype /Image" in pdf.read_bytes()
