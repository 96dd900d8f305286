"""A trend is drawn to scale from zero, over days to scale, with its ends in numbers."""

import re
from pathlib import Path

import pandas as pd

from pipeline.publish.pages.svg import TYPEFACE
from pipeline.publish.pages.trends import trend_chart
from pipeline.publish.words import words_of

_WORDS = words_of("en")
_PAGES = Path(__file__).parents[3] / "pipeline/publish/pages/templates"


def _runs(*values):
    """Three runs, 10 and 30 days apart."""
    return pd.Series(values, index=["2026-01-01", "2026-01-11", "2026-02-10"])


def _lines(chart):
    line = r'<line x1="([\d.]+)%" y1="([\d.]+)" x2="([\d.]+)%" y2="([\d.]+)" stroke="#[0-9a-f]{6}" stroke-width="2"'
    return [tuple(map(float, found)) for found in re.findall(line, chart)]


def _texts(chart):
    found = re.findall(r'<text x="([\d.]+)%" y="([\d.]+)" text-anchor="(\w+)"[^>]*>([^<]*)<', chart)
    return [(float(x), float(y), anchor, shown) for x, y, anchor, shown in found]


def test_a_trend_runs_from_zero_up_to_its_own_largest_value():
    """A quarter of the 94 percent from 3 to 97 is 23.5; the largest is 56 pixels above zero, which is at 100."""
    assert _lines(str(trend_chart(_runs(4, 0, 2), "one", "Cores", _WORDS))) == [(3, 44, 26.5, 100), (26.5, 100, 97, 72)]
    tenfold = trend_chart(_runs(40, 0, 20), "one", "Cores", _WORDS)
    assert _lines(str(tenfold)) == [(3, 44, 26.5, 100), (26.5, 100, 97, 72)]


def test_the_first_and_the_last_value_and_day_are_written():
    chart = str(trend_chart(_runs(1400, 3, 2), "one", "Cores", _WORDS))
    assert _texts(chart)[0][2:] == ("start", "Cores")
    assert [(x, anchor, shown) for x, _, anchor, shown in _texts(chart)[1:]] == [
        (0, "start", "1,400"), (0, "start", "1 Jan 2026"), (100, "end", "2"), (100, "end", "10 Feb 2026"),
    ]  # fmt: skip
    assert '<desc id="one-desc">Cores: 1,400 (1 Jan 2026), 3 (11 Jan 2026), 2 (10 Feb 2026)</desc>' in chart


def test_a_run_without_the_measure_is_left_out():
    """A record of an older version has no bags: the line starts at the first run that has."""
    chart = str(trend_chart(_runs(None, 80.5, 81.0), "one", "Bags", _WORDS))
    assert [shown for *_, shown in _texts(chart)] == ["Bags", "80.5", "11 Jan 2026", "81.0", "10 Feb 2026"]
    assert len(_lines(chart)) == 1
    assert trend_chart(_runs(None, None, None), "one", "Bags", _WORDS) is None


def test_a_measure_that_is_always_zero_lies_on_the_axis():
    assert {y for line in _lines(str(trend_chart(_runs(0, 0, 0), "one", "Cores", _WORDS))) for y in line[1::2]} == {100}


def test_dots_of_many_runs_would_run_together():
    days = [str(day.date()) for day in pd.date_range("2026-01-01", periods=200)]
    assert str(trend_chart(pd.Series(range(200), index=days), "one", "Cores", _WORDS)).count("<circle") == 1
    assert str(trend_chart(_runs(1, 2, 3), "one", "Cores", _WORDS)).count("<circle") == 3


def test_charts_and_pages_have_the_same_typeface():
    style = (_PAGES / "report.css").read_text("utf-8").replace('"', "'")
    assert {font.strip() for font in re.findall(r"font: (?:16px/1.5|8pt) ([^;]*);", style)} == {TYPEFACE}
