"""One sheet per street or district: a numbered map and its list, and the dialog that prints them."""

import shutil
import subprocess

import geopandas as gpd
import pytest
import shapely

from tests.browser.browser import open_page
from tests.browser.town import (
    EAST,
    HOSTILE,
    MIDDLE,
    NORTH,
    STREET,
    WEST,
    cores,
    findings,
    saved,
    view,
    wait_until_drawn,
)

pytestmark = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="pdftotext is not installed: apt-get install poppler-utils"
)

# Capstan Street has two segments, the eastern one drawn from east to west: west 0 to 318 m, then 318 to 0 m again.
ROADS = gpd.GeoDataFrame(
    {
        "segment_id": ["W", "E", "L"],
        "street": ["Capstan Street", "Capstan Street", "Dory Lane"],
        "surface": ["asphalt", "asphalt", "concrete"],
    },
    geometry=[
        shapely.LineString([(WEST, STREET), (MIDDLE, STREET)]),
        shapely.LineString([(EAST, STREET), (MIDDLE, STREET)]),
        shapely.LineString([(MIDDLE, STREET), (MIDDLE, NORTH)]),
    ],
    crs=4326,
)
SIX = cores(
    {"status": "pending", "lon": -81.9965, "lat": STREET, "segment_id": "E", "chainage_m": 40.0},
    {"status": "flagged", "lon": -82.0035, "lat": STREET, "segment_id": "W", "chainage_m": 40.0},
    {"status": "pending", "lon": -81.9995, "lat": STREET, "segment_id": "E", "chainage_m": 280.0},
    {"status": "reinstated", "lon": -82.001, "lat": STREET, "segment_id": "W", "chainage_m": 240.0},
    {
        "status": "pending",
        "lon": MIDDLE,
        "lat": 44.802,
        "segment_id": "L",
        "street": "Dory Lane",
        "district": "Saltmarsh",
    },
    {"status": "flagged", "segment_id": None, "street": None, "district": None},
).assign(
    state=["plated", "open", "open", "back", "interim", "unknown"],
    urgency=["overdue", "hazard", None, None, None, "record"],
    road_authority=["Vale County"] * 4 + ["Town of Harbour Vale", None],
    permit_no=["P-7", "P-8", None, None, HOSTILE, None],
    permit_expires_on=["2026-11-24", "2026-11-25", None, "2026-01-01", None, None],
    planned_on=["2026-12-01", None, None, None, None, None],
)
SIX_FINDINGS = findings(
    (1, "open-too-long", "fail", "Open for 319 days."),
    (1, "permit-expired", "check", "Permit P-7 expired."),
    (1, "road-uncertain", "note", "A remark."),
    (6, "position-missing", "fail", "No coordinates."),
)


def ask_for(page, what, paper="A4", way="portrait"):
    page.ask("void document.querySelector('#print').click()")
    for name, value in (("what", what), ("paper", paper), ("way", way)):
        page.ask(f"void document.querySelector('#print-dialog input[name=print-{name}][value={value}]').click()")
    return page.text("#print-dialog .print-says")


def printed(page, tmp_path):
    """Print what the dialog asks for, and return the size of the paper in points and the text of each page."""
    page.ask("void document.querySelector('#print-dialog .print-go').click()")
    path = tmp_path / "sheets.pdf"
    path.write_bytes(page.as_pdf(preferCSSPageSize=True))

    def read(*command):
        return subprocess.run([*command], capture_output=True, text=True, check=True).stdout

    size = next(line for line in read("pdfinfo", path).splitlines() if "Page size" in line)
    width, height = (round(float(word)) for word in size.split()[2:5:2])
    return (width, height), read("pdftotext", "-layout", path, "-").split("\f")[:-1]


def test_each_street_has_a_sheet_with_its_cores_numbered_along_it(tmp_path):
    shown = view(cores=SIX, findings=SIX_FINDINGS, segments=ROADS, unplaced=1)
    with open_page(saved(tmp_path, shown)) as page:
        wait_until_drawn(page)
        page.ask("void (window.print = () => {})")
        assert ask_for(page, "streets").startswith("3 sheets for 6 cores")
        page.ask("void document.querySelector('#print-dialog .print-go').click()")
        page.ask("void window.dispatchEvent(new Event('beforeprint'))")
        lists = page.ask(
            "[...document.querySelectorAll('.paper-list')].map((list) => [...list.tBodies[0].rows].map((row) => [...row.cells].slice(0, 2).map((cell) => cell.textContent)))"
        )
        # from west to east, over the second segment against its own direction
        assert lists == [
            [["1", "C-2"], ["2", "C-4"], ["3", "C-3"], ["4", "C-1"]],
            [["1", "C-5"]],
            [["1", "C-6not on the map"]],
        ]
        assert page.ask("document.querySelectorAll('.paper-map').length") == 2
        page.page.emulate_media(media="print")
        # no head of a column runs into the next
        heads = (
            "[...document.querySelectorAll('.paper-list thead th')].map((head) => head.scrollWidth <= head.clientWidth)"
        )
        assert set(page.ask(heads)) == {True}
        page.page.emulate_media(media=None)
        cells = page.ask(
            "[...document.querySelectorAll('.paper-list')[0].rows].map((row) => [...row.cells].map((cell) => cell.textContent))"
        )
        assert cells[0] == ["No.", "Core", "State", "Urgency", "Along street", "What is wrong", "Permit", "Planned"]
        assert cells[1][2:] == [" Open", " Hazard", "40 m", "–", "P-8, to 25 Nov 2026", "–"]
        # the permit of a reinstated core has done its duty
        assert cells[2][2:] == [" Reinstated", "–", "240 m", "–", "to 1 Jan 2026", "–"]
        # 40 m from the end of a street of 633 m
        assert cells[4][2:] == [
            " Plated",
            "Overdue",
            "593 m",
            "Open too long; Permit expired",
            "P-7, expired 24 Nov 2026",
            "1 Dec 2026",
        ]
        assert page.text(".paper-first") == " First: 1 hazard, number 1.Then: 1 overdue, number 4."
        assert page.text(".paper-legend").startswith(" Flagged 1 Pending 2 Reinstated 1")
        page.ask("void window.dispatchEvent(new Event('afterprint'))")
        for paper, way, size in (
            ("A4", "portrait", (595, 842)),
            ("A4", "landscape", (842, 595)),
            ("Letter", "portrait", (612, 792)),
            ("Letter", "landscape", (792, 612)),
        ):
            ask_for(page, "streets", paper, way)
            found, pages = printed(page, tmp_path)
            assert found == size
            assert [text.split("  ")[0].strip() for text in pages] == ["Capstan Street", "Dory Lane", "Unnamed streets"]
            assert "Sheet 1 of 3" in pages[0]
            assert "Page 1 of 1" in pages[0]
            assert "Vale County · Old Harbour · 25 November 2026" in pages[0]
            assert not any(word in "".join(pages) for word in ("click", "Zoom", "Cancel"))
        assert page.ask("window.ran") is None
        assert page.complaints == []


def test_a_long_list_continues_on_the_next_page_below_its_heads_and_too_many_sheets_are_refused(tmp_path):
    many = cores(
        *[
            {"lon": WEST + 0.00004 * i, "lat": STREET, "segment_id": "W", "chainage_m": 3.0 * i, "street": street}
            for street, count in (("Capstan Street", 100), *((f"Street {n:02}", 1) for n in range(61)))
            for i in range(count)
        ]
    )
    with open_page(saved(tmp_path, view(cores=many, findings=findings(), segments=ROADS, unplaced=0))) as page:
        wait_until_drawn(page)
        page.ask("void (window.print = () => {})")
        assert ask_for(page, "streets").startswith("62 sheets for 161 cores. At most 60 sheets and 3,000 cores")
        assert page.ask("document.querySelector('#print-dialog .print-go').disabled") is True
        assert ask_for(page, "districts", "Letter", "landscape").startswith("1 sheet for 161 cores")
        _, pages = printed(page, tmp_path)
        count = len(pages)
        assert count > 3
        for number, text in enumerate(pages, start=1):
            assert "Old Harbour" in text.splitlines()[0]
            assert f"Page {number} of {count}" in text
            assert text.count("What is wrong") == 1
        ids = [word for text in pages for word in text.split() if word.startswith("C-")]
        assert sorted(ids) == sorted(f"C-{i}" for i in range(1, 162))
        # no page holds a heading without a core below it
        assert not any(text.rstrip().splitlines()[-1].strip().startswith("Street") for text in pages)


def test_numbers_lie_beside_their_symbols_and_over_none(tmp_path):
    """Twelve cores 30 pixels apart get a number each; three on one spot share one; one between others gets none."""
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)

        def placed(spots, width=500, height=60):
            return page.ask(
                f"KerfbookPaperNumbers.place({spots}, 6, {{ width: {width}, height: {height} }}, (text) => 5 * text.length)"
            )

        row = placed([[20 + 30 * i, 30] for i in range(12)])
        assert [label["text"] for label in row["labels"]] == [str(n) for n in range(1, 13)]
        assert row["without"] == []
        boxes = [label["box"] for label in row["labels"]]
        for b, box in enumerate(boxes):
            others = [
                *boxes[:b],
                *boxes[b + 1 :],
                *({"left": x - 6, "right": x + 6, "top": 24, "bottom": 36} for x in range(20, 380, 30)),
            ]
            assert not any(
                box["left"] < other["right"]
                and other["left"] < box["right"]
                and box["top"] < other["bottom"]
                and other["top"] < box["bottom"]
                for other in others
            )
            # within a letter's height of the symbol's edge
            assert abs(box["x"] - (20 + 30 * b)) < 6 + 10 + 5
        spot = placed([[50, 30], [51, 30], [52, 31], [200, 30]])
        assert [label["text"] for label in spot["labels"]] == ["1–3", "4"]
        # a map as high as the symbols, filled by them
        full = placed([[6 + 12 * i, 6] for i in range(3)], 36, 12)
        assert full == {"labels": [], "without": [1, 2, 3]}
        # a badge to the upper right covers where the number would be: it goes to the left
        badge = "{ left: 53, right: 64, top: 18, bottom: 29 }"
        beside = page.ask(
            f"KerfbookPaperNumbers.place([[50, 30]], 6, {{ width: 500, height: 60 }}, (text) => 5 * text.length, [{badge}])"
        )
        assert [label["x"] < 44 for label in beside["labels"]] == [True]
        # 0.69 of a pixel per unit of a symbol of 5.5 pixels that a hazard makes 1.32 times as large: 0.9075
        box = page.ask("KerfbookSymbols.badgeBox(0, 5.5, [50, 30])")
        assert box == pytest.approx({"left": 48.82, "right": 60.07, "top": 19.93, "bottom": 31.18}, abs=0.01)
        assert page.ask("[KerfbookSymbols.badgeBox(2, 5.5, [50, 30]), KerfbookSymbols.badgeBox(4, 5.5, [50, 30])]") == [
            None,
            None,
        ]
