"""The report, the comparison page and a rehearsal in a browser: for everyone, on a phone, on paper.

axe-core is the copy in the package axe-playwright-python.
"""

import subprocess
from dataclasses import replace
from importlib import resources

import pytest

from pipeline.commands.compare import compare_runs
from pipeline.locate.learning.fit import START
from pipeline.publish.rehearsal.files import draw_rehearsal
from pipeline.publish.report.report import draw_report
from tests.browser.browser import open_page
from tests.browser.town import HOSTILE
from tests.publish.rehearsal.by_hand import rehearsal
from tests.publish.report.outcomes import outcome, reading, reliability, with_learnt

_AXE = (resources.files("axe_playwright_python") / "axe.min.js").read_text("utf-8")
_WIDTHS = (1280, 390)
# width and height in inches
_PAPER = {"A4": (8.27, 11.69), "Letter": (8.5, 11)}


@pytest.fixture(scope="module")
def pages(demo_months, tmp_path_factory):
    first, second = demo_months
    priced = tmp_path_factory.mktemp("priced") / "report.html"
    compared = compare_runs(first.folder, second.folder, tmp_path_factory.mktemp("compared") / "compare").folder
    bought = second.orders.purchases
    cost = bought["packs_ordered"] * 1450.5
    orders = second.orders._replace(purchases=bought.assign(cost=cost, currency="CAD"))
    priced.write_text(draw_report(replace(second, orders=orders)), encoding="utf-8")
    planted = tmp_path_factory.mktemp("rehearsal") / "rehearsal.html"
    planted.write_text(draw_rehearsal(rehearsal()), encoding="utf-8")
    learnt = tmp_path_factory.mktemp("learnt") / "report.html"
    learnt.write_text(draw_report(_with_learnt(second)), encoding="utf-8")
    return {
        "report": second.folder / "report.html",
        "compare": compared / "compare.html",
        "priced": priced,
        "learnt": learnt,
        "rehearsal": planted,
    }


def _with_learnt(result):
    """Return a run with a shift to warn of, and a figure of four batches."""
    names = ("Quay", "Mast", "Crew of the northern yard")
    rows = [
        (name, when, group, 20 * group, group / 10 + 0.05, 0.6 + group / 30)
        for name in (*names, "")
        for when in ("before", "after")
        for group in range(4, 10)
    ]
    found = outcome(
        key="crew",
        batches=dict.fromkeys(names, START),
        reading=reading("either"),
        reliability=reliability(*rows),
    )
    return with_learnt(result, [found], (*names, "Spare"))


@pytest.fixture(scope="module")
def hostile(demo_months, tmp_path_factory):
    """Every text of the run tries to break out, and is longer than a workbook's cell; the first are a megabyte long."""
    _, result = demo_months
    longest, long = HOSTILE + "W" * 1_000_000, HOSTILE + "W" * 40_000
    programme = result.settings.programme.model_copy(update={"name": HOSTILE + "W" * 300})
    messages = [longest, *[long] * (len(result.audit.findings) - 1)]
    findings = result.audit.findings.assign(core_id=HOSTILE, message=messages)
    cores = result.cores.assign(district=HOSTILE + "W" * 300)
    page = draw_report(
        replace(
            result,
            settings=result.settings.model_copy(update={"programme": programme}),
            inputs=replace(result.inputs, notices=[longest]),
            audit=replace(result.audit, findings=findings),
            cores=cores,
            table=result.table.assign(district=HOSTILE, street=[longest, *[long] * (len(result.table) - 1)]),
        )
    )
    path = tmp_path_factory.mktemp("hostile") / "report.html"
    path.write_text(page, encoding="utf-8")
    return path


def violations(page):
    page.ask(f"void (() => {{ {_AXE} }})()")
    return page.ask(
        "axe.run(document, { resultTypes: ['violations'] }).then((found) => found.violations.map("
        "(v) => [v.id, v.nodes.map((n) => n.target.join(' ') + ' ' + n.failureSummary.slice(0, 200))]))"
    )


# the report with learnt errors has every part of the one without, and more
@pytest.mark.parametrize("name", ["compare", "learnt", "rehearsal"])
def test_axe_finds_nothing(pages, name):
    with open_page(pages[name]) as page:
        for width in _WIDTHS:
            page.page.set_viewport_size({"width": width, "height": 800})
            assert violations(page) == [], width
        assert page.complaints == []


@pytest.mark.parametrize("name", ["report", "compare", "priced", "learnt", "rehearsal"])
def test_on_a_telephone_nothing_runs_out_of_the_side_and_letters_stay_legible(pages, name):
    with open_page(pages[name], 390, 800) as page:
        assert page.complaints == []
        assert page.ask("document.documentElement.scrollWidth") <= 390
        # no chart is scaled down: its letters are as large as they are drawn
        sizes = page.ask(
            "[...document.querySelectorAll('svg.chart text')].map((t) => t.getCTM().a * parseFloat(getComputedStyle(t).fontSize))"
        )
        assert min(sizes) >= 12
        # and none of them lies across another, or outside
        crossing = page.ask(
            """[...document.querySelectorAll('svg.chart')].flatMap((chart) => {
            const box = chart.getBoundingClientRect();
            const texts = [...chart.querySelectorAll('text')].map((t) => [t.textContent, t.getBoundingClientRect()]);
            return texts.flatMap(([said, a], i) => [
              ...(a.left < box.left - 8 || a.right > box.right + 8 ? [said + ' outside'] : []),
              ...texts.slice(i + 1).filter(([, b]) => a.left < b.right - 1 && b.left < a.right - 1
                && a.top < b.bottom - 4 && b.top < a.bottom - 4).map(([other]) => said + ' | ' + other)]); })"""
        )
        assert crossing == []


@pytest.mark.parametrize("name", ["report", "priced", "learnt"])
def test_the_first_page_is_one_page_of_paper(pages, name, tmp_path):
    with open_page(pages[name]) as page:
        for paper, (width, height) in _PAPER.items():
            (tmp_path / f"{paper}.pdf").write_bytes(page.as_pdf(paperWidth=width, paperHeight=height))
    for paper in _PAPER:
        first, second = (_text_of(tmp_path / f"{paper}.pdf", number) for number in (1, 2))
        for said in (
            "Harbour Vale 2026",
            "1. What can hurt",
            "2. What is overdue",
            "3. What must be lifted",
            "4. What must be",
        ):
            assert said in first, paper
        assert "Position errors: " in first, paper
        assert ("may be shifted" in first) == (name == "learnt"), paper
        assert "Contents" not in first, paper
        assert second.startswith("Contents"), paper


def _text_of(pdf, number):
    command = ["pdftotext", "-f", str(number), "-l", str(number), pdf, "-"]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def test_in_grey_the_pieces_of_a_bar_differ_in_lightness(pages):
    with open_page(pages["report"]) as page:
        fills = page.ask(
            "[...document.querySelectorAll('svg.chart rect')].slice(0, 3).map((r) => getComputedStyle(r).fill)"
        )
    grey = [sum(w * int(c) for w, c in zip((0.299, 0.587, 0.114), f[4:-1].split(","), strict=True)) for f in fills]
    low, middle, high = sorted(grey)
    assert middle - low > 40
    assert high - middle > 40


def test_texts_that_try_to_break_out_change_neither_the_page_nor_its_width(hostile):
    with open_page(hostile) as page:
        assert page.ask("document.querySelectorAll('img, b bdi b, script').length") == 0
        assert "Cautions" in page.text("main > h2:last-of-type")
        for width in _WIDTHS:
            page.page.set_viewport_size({"width": width, "height": 800})
            assert page.ask("document.documentElement.scrollWidth") <= width
            assert violations(page) == [], width
        assert page.ask("window.ran === undefined")
        assert page.complaints == []
