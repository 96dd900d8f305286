"""The sheets of crews on paper: as many pages as they say, on A4 and on Letter, in letters that can be read."""

import re
from dataclasses import replace

import pandas as pd
import pytest

from pipeline.publish.plan.crew_sheets import draw_crew_sheets
from pipeline.publish.plan.day_stops import sheet_days
from pipeline.publish.words import words_of
from tests.browser.browser import open_page
from tests.publish.plan.small_plan import small_plan, with_straight_ways

# width and height in inches
_PAPER = {"A4": (8.27, 11.69), "Letter": (8.5, 11)}
_POINT = 96 / 72
_NAMES = {
    "short": "North crew",
    "long": "Reinstatement crew of the northern harbour and the old market, 7",
    "right to left": "صيانة الطرق الشمالية",
}


def _days(*counts, crew="North crew"):
    """Return the small plan with days of so many stops, each a copy of one of its stops."""
    result = small_plan()
    stops = result.plan.stops
    parts, rows = [], []
    for number, count in enumerate(counts):
        day = pd.Timestamp(2026, 10, 5) + pd.Timedelta(days=number)
        some = stops.iloc[[at % len(stops) for at in range(count)]]
        parts.append(some.assign(crew=crew, day=day, stop=range(1, count + 1), mix=range(1, count + 1)))
        rows.append(result.plan.days.iloc[:1].assign(crew=crew, day=day, stops=count))
    every = pd.concat(parts)
    cores = result.cores.loc[every.index]
    every = every.reset_index(drop=True).assign(row=range(1, len(every) + 1))
    cores = cores.reset_index(drop=True).assign(row=range(1, len(every) + 1))
    plan = result.plan._replace(stops=every, days=pd.concat(rows, ignore_index=True))
    return with_straight_ways(replace(result, cores=cores, plan=plan))


def _open(result, folder):
    path = folder / "crew-sheets.html"
    path.write_text(draw_crew_sheets(result, words_of("en")), encoding="utf-8")
    return open_page(path)


def _pages(pdf):
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


@pytest.mark.parametrize("paper", _PAPER)
@pytest.mark.parametrize("name", _NAMES)
def test_every_sheet_is_one_page_whatever_the_day_and_the_crew(name, paper, tmp_path):
    wide, high = _PAPER[paper]
    with _open(_days(1, 3, 8, 12, crew=_NAMES[name]), tmp_path) as opened:
        assert opened.complaints == []
        sheets = opened.ask("document.querySelectorAll('.sheet').length")
        pdf = opened.as_pdf(paperWidth=wide, paperHeight=high, preferCSSPageSize=False)
        opened.ask("document.querySelectorAll('.sheet').forEach((sheet) => sheet.remove())")
        cover = opened.as_pdf(paperWidth=wide, paperHeight=high, preferCSSPageSize=False)
    assert _pages(pdf) == _pages(cover) + sheets
    # eight stops fit a page, and twelve do not
    assert sheets == 1 + 1 + 1 + 2


@pytest.mark.parametrize("paper", _PAPER)
def test_the_demo_has_one_page_per_crew_day_and_one_for_the_supervisor(demo, paper):
    wide, high = _PAPER[paper]
    days = sheet_days(demo)
    assert days["stops"].max() <= 8
    with open_page(demo.folder / "crew-sheets.html") as opened:
        pdf = opened.as_pdf(paperWidth=wide, paperHeight=high, preferCSSPageSize=False)
    # the cautions go on the back of the first page where many crew days fill it
    assert _pages(pdf) - len(days) in {1, 2}


def test_forty_crew_days_of_two_weeks_fit_the_first_page(tmp_path):
    wide, high = _PAPER["Letter"]
    with _open(_days(1), tmp_path) as opened:
        opened.ask(
            "(() => { document.querySelectorAll('.sheet').forEach((sheet) => sheet.remove()); const rows = "
            "document.querySelector('tbody'); while (rows.children.length < 40) "
            "rows.append(rows.firstElementChild.cloneNode(true)); })()"
        )
        pdf = opened.as_pdf(paperWidth=wide, paperHeight=high, preferCSSPageSize=False)
    # the second page is the back, with the cautions
    assert _pages(pdf) == 2


def test_letters_are_large_enough_to_be_read_at_arms_length(tmp_path):
    script = (
        "[...document.querySelectorAll('.sheet *')].filter((e) => !e.closest('svg') && [...e.childNodes].some((n) => "
        "n.nodeType === 3 && n.textContent.trim())).map((e) => parseFloat(getComputedStyle(e).fontSize))"
    )
    with _open(_days(2, 8), tmp_path) as opened:
        sizes = opened.ask(script)
        shades = opened.ask(
            "[...document.querySelectorAll('.shade')].map((e) => parseFloat(getComputedStyle(e).fontSize))"
        )
        # the map's letters, in pixels of the screen at its printed size
        names = opened.ask(
            "[...document.querySelectorAll('.streets text')].map((e) => e.getBoundingClientRect().height)"
        )
    assert min(sizes) >= 10.5 * _POINT - 0.01
    assert min(shades) >= 16 * _POINT - 0.01
    assert min(names) >= 11 * _POINT


def test_nothing_on_a_sheet_overlaps_or_runs_over_its_edge(tmp_path):
    script = (
        "(() => { const out = []; for (const sheet of document.querySelectorAll('.sheet')) { const parts = "
        "[...sheet.children].map((e) => e.getBoundingClientRect()); parts.forEach((r, i) => { if (i && r.top < "
        "parts[i - 1].bottom - 1) out.push(['overlap', i]); }); for (const e of sheet.querySelectorAll('.load, article, "
        "header, .boxes div')) if (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1) "
        "out.push([e.className || e.tagName, e.textContent.slice(0, 60)]); } return out; })()"
    )
    for crew in _NAMES.values():
        with _open(_days(1, 4, 8, crew=crew), tmp_path) as opened:
            assert opened.ask(script) == []


def test_in_us_units_nothing_runs_over_either(tmp_path):
    result = _days(4, 8)
    orders = result.settings.orders.model_copy(update={"units": "us"})
    result = replace(result, settings=result.settings.model_copy(update={"orders": orders}))
    with _open(result, tmp_path) as opened:
        text = opened.text(".sheet")
        over = opened.ask("[...document.querySelectorAll('.load')].some((e) => e.scrollHeight > e.clientHeight + 1)")
    assert " lb" in text
    assert " kg" not in re.sub("heaviest is about [^.]*", "", text)
    assert not over
