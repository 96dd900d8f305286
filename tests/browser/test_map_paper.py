"""The printed map, checked on its canvas and in the PDFs that Chromium and Firefox make."""

import re
import shutil
import subprocess
import unicodedata
from pathlib import Path

import pytest

from tests.browser.browser import open_page
from tests.browser.firefox import FIREFOX, open_in_firefox
from tests.browser.town import COLOURS, FINDINGS, STREET, cores, saved, view, wait_until_drawn

NEEDS_POPPLER = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="pdftotext is not installed: apt-get install poppler-utils"
)
# inches, as Chromium asks for them
PAPERS = {"A4": (8.27, 11.69), "Letter": (8.5, 11)}


def pages_of(pdf, path):
    """Return the text of each page."""
    path.write_bytes(pdf)
    done = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True)
    # Firefox writes some pairs of letters as one
    return unicodedata.normalize("NFKC", done.stdout).split("\f")[:-1]


def before_print(page):
    page.ask("void window.dispatchEvent(new Event('beforeprint'))")


PIXEL = "[...document.querySelector('.sheet.upright .paper-map').getContext('2d').getImageData({}, {}, 1, 1).data]"


def test_a_town_smaller_than_the_screen_fills_the_paper_and_its_cores_have_their_colours(tmp_path):
    """The streets and outlines are 0.008 degrees wide, and 0.005 high: as much as 0.00705 of longitude at 44.8 degrees north.

    With 3 % of the longer side around them, the paper shows 0.00848 degrees across and 0.00753 down.
    """
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.ask("void map_kerfbook.setZoom(13, { animate: false })")
        before_print(page)
        high, wide = page.ask(
            "(({ width, height }) => [height / 3, width / 3])(document.querySelector('.sheet.upright .paper-map'))"
        )
        scale = min(wide / 0.00848, high / 0.00753)
        # from the middle of the network, 44.8005 north and 82 west
        down = 0.0005 / 0.7096 * scale
        for status, east in (("flagged", -0.003), ("pending", -0.001), ("reinstated", 0.002)):
            at = (round(3 * (wide / 2 + east * scale)), round(3 * (high / 2 + down)))
            assert page.ask(PIXEL.format(*at)) == [*COLOURS[status], 255], status


def test_whoever_has_zoomed_in_prints_what_is_on_the_screen(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.ask(f"void map_kerfbook.setView([{STREET}, -82.0026], 19, {{ animate: false }})")
        before_print(page)
        # from the middle of the paper, as many screen pixels away as the paper's own zoom makes of them
        painted = page.ask(
            f"""(() => {{ const map = map_kerfbook, paper = document.querySelector('.sheet.upright .paper-map'), size = map.getSize();
            const from = map.latLngToContainerPoint([{STREET}, -82.003]).subtract(size.divideBy(2));
            const [w, h] = [paper.width / 3, paper.height / 3], scale = Math.min(w / size.x, h / size.y);
            const at = [(w / 2 + from.x * scale) * 3, (h / 2 + from.y * scale) * 3].map(Math.round);
            return [...paper.getContext('2d').getImageData(...at, 1, 1).data]; }})()"""
        )
        assert painted == [*COLOURS["flagged"], 255]
        page.ask("void window.dispatchEvent(new Event('afterprint'))")
        assert page.ask("document.querySelector('.paper-map')") is None


def test_what_is_on_paper_is_counted_on_the_paper(tmp_path):
    """A wide and low window cuts off the cores in the north and south; upright paper shows them, wide paper does not.

    The window is four times as wide as high and the upright map higher than wide: it reaches more than four times
    as far north and south as the window. The sideways map is about 1.9 times as wide as high: twice as far.
    """
    with open_page(saved(tmp_path, view()), width=1700, height=440) as page:
        wait_until_drawn(page)
        # the cores all lie on the street: the window's middle is moved 1.5 and 3 of its half heights away
        height = page.ask("map_kerfbook.getSize().y")
        seen = {}
        for half_heights in (0, 1.5, 3, 12):
            page.ask(
                f"""(() => {{ const map = map_kerfbook; map.setView([{STREET}, -82.0005], 16, {{ animate: false }});
                map.panBy([0, {half_heights * height / 2}], {{ animate: false }}); }})()"""
            )
            before_print(page)
            counts = [page.text(f".sheet.{way} .paper-counts") for way in ("upright", "wide")]
            seen[half_heights] = [text.split(".")[0] for text in counts]
        three, none = (f"On this map: {n} flagged, {n} pending, {n} reinstated" for n in (1, 0))
        assert seen == {0: [three, three], 1.5: [three, three], 3: [three, none], 12: [none, none]}
        legends = page.ask("[...document.querySelectorAll('.paper-legend')].map((legend) => legend.textContent)")
        # nothing of what is not there
        assert legends == ["", ""]


def test_the_table_prints_all_its_rows_hazards_first_and_no_map(tmp_path):
    many = [
        {"status": "pending", "lon": -82.003, "lat": STREET, "urgency": "hazard" if i == 77 else None, "state": "open"}
        for i in range(120)
    ]
    shown = view(
        cores=cores(*many).assign(urgency=[row["urgency"] for row in many]), findings=FINDINGS.iloc[:0], unplaced=0
    )
    with open_page(saved(tmp_path, shown)) as page:
        wait_until_drawn(page)
        page.ask("void document.querySelector('#as-table').click()")
        page.wait_for("document.querySelectorAll('.cores-table tbody tr').length === 50")
        # sorted by core, the hazard is the 78th on the screen
        page.ask("""void document.querySelector('#table-view [data-column="core"] button').click()""")
        before_print(page)
        assert page.ask("document.querySelector('.paper-map')") is None
        ids = page.ask("[...document.querySelectorAll('.paper-list tbody tr')].map((row) => row.cells[0].textContent)")
        assert ids == ["C-78", *[f"C-{i}" for i in range(1, 121) if i != 78]]
        assert page.text(".paper-counts") == "1 to 120 of 120 cores"
        pdf = page.as_pdf()
        if shutil.which("pdftotext"):
            pages = pages_of(pdf, tmp_path / "table.pdf")
            assert len(pages) > 2
            assert all(re.search(r"Core +Status +Urgency +Findings", text) for text in pages)
            for number, text in enumerate(pages, start=1):
                assert text.rstrip().endswith(f"Page {number} of {len(pages)}")
        assert page.ask("document.querySelector('.paper-list')") is None
        assert page.complaints == []


def test_the_print_states_filter_date_counts_and_sources(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.ask("kerfbook.filter.askAll({ status: new Set(['flagged', 'pending']), opened: [20000, 20727] })")
        before_print(page)
        printed = page.text("#paper-page .sheet")
        assert "Harbour Vale water" in printed
        assert "As of 25 November 2026" in printed
        # 20000 and 20727 days after 1970-01-01
        assert (
            "Shown: Status: Flagged or Pending; Opened from 4 October 2024 to 1 October 2026. 3 of 4 cores match."
            in printed
        )
        assert "On this map: 1 flagged, 1 pending, 0 reinstated." in printed
        assert "1 core that matches has no usable position and is not on the map." in printed
        assert "Flagged 1" in page.text(".paper-legend")
        assert "Reinstated" not in page.text(".paper-legend")
        assert "Data: Harbour Vale road centrelines" in printed
        assert "Zoom in" not in printed


@NEEDS_POPPLER
def test_the_map_is_one_sheet_on_a4_and_letter_both_ways_up(tmp_path):
    long = [f"Survey {number} of the roads, kerbs and footways of Harbour Vale" for number in range(12)]
    with open_page(saved(tmp_path, view(sources=long)), color_scheme="dark") as page:
        wait_until_drawn(page)
        for short, tall in PAPERS.values():
            for width, height in ((short, tall), (tall, short)):
                pages = pages_of(page.as_pdf(paperWidth=width, paperHeight=height), tmp_path / "map.pdf")
                assert len(pages) == 1
                assert re.search(r"Shown: All cores\. All 4 cores, no filter set", pages[0])
                assert re.search(r"\d+ m\b", pages[0])
                assert re.search(r"\bN\b", pages[0])
                assert "District outlines" in pages[0]
                assert f"{long[-1]}" in re.sub(r"\s+", " ", pages[0])


@NEEDS_POPPLER
def test_totals_and_orders_are_printed_after_the_map_when_asked_for(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        page.ask("void (window.print = () => {})")
        page.ask("void document.querySelector('#print').click()")
        page.ask("void document.querySelector('#print-dialog > .tick input').click()")
        page.ask("void document.querySelector('#print-dialog .print-go').click()")
        pages = pages_of(page.as_pdf(preferCSSPageSize=True), tmp_path / "totals.pdf")
        assert len(pages) > 1
        assert "61.25" in "".join(pages[1:])
        assert page.ask("document.querySelectorAll('#paper-page *').length") == 0


@NEEDS_POPPLER
@pytest.mark.skipif(not Path(FIREFOX).exists(), reason=f"{FIREFOX} is not installed: apt-get install firefox-esr")
def test_firefox_prints_the_map_on_one_sheet_both_ways_up_and_repeats_the_heads_of_the_table(tmp_path):
    many = [{"status": "pending", "lon": -82.003, "lat": STREET} for _ in range(120)]
    shown = view(cores=cores(*many), findings=FINDINGS.iloc[:0], unplaced=0)
    with open_in_firefox(saved(tmp_path, shown), color_scheme="dark") as page:
        page.wait_for("performance.getEntriesByName('all-read').length > 0")
        for is_wide in (False, True):
            pages = pages_of(page.as_pdf(landscape=is_wide), tmp_path / "map.pdf")
            assert len(pages) == 1
            assert "On this map: 0 flagged, 120 pending, 0 reinstated." in pages[0]
            assert "Data: Harbour Vale road centrelines" in pages[0]
        page.ask("void document.querySelector('#as-table').click()")
        pages = pages_of(page.as_pdf(), tmp_path / "table.pdf")
        assert len(pages) > 2
        assert all(re.search(r"Core +Status", text) for text in pages)
        assert page.complaints == []
