"""Charts are drawn to scale, escaped, and described in words."""

import re
from itertools import pairwise

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.publish.looks import STATUS_LOOKS
from pipeline.publish.pages.charts import (
    columns_chart,
    curves,
    interval_bar,
    mark,
    stacked_bars,
    status_bar,
)
from pipeline.publish.words import plain_text, words_of

_WORDS = words_of("en")


def _widths(chart, height):
    return [float(width) for width in re.findall(rf'width="([\d.]+)%" height="{height}"', chart)]


def _is_filled(bar):
    """Return whether the dot has the colour of its outline."""
    return re.search(r'r="4.5" fill="(#\w+)" stroke="\1"', bar) is not None


def _description(chart):
    return re.search("<desc[^>]*>([^<]*)</desc>", chart)[1]


def test_one_bar_of_all_cores_has_a_piece_per_status():
    """Of 200 cores, 20 are a tenth, 60 three tenths and 120 six tenths."""
    chart = str(status_bar({"flagged": 20, "pending": 60, "reinstated": 120}, "one", _WORDS))
    assert _widths(chart, 26) == [10.0, 30.0, 60.0]
    assert re.findall('<rect x="([0-9.]+)%"', chart) == ["0.00", "10.00", "40.00"]
    assert _description(chart) == "Flagged 20, Pending 60, Reinstated 120."
    assert re.findall('text-anchor="middle" fill="#[0-9a-f]+">([0-9]+)<', chart) == ["20", "60", "120"]


@settings(deadline=None)
@given(st.lists(st.integers(0, 10**6), min_size=3, max_size=3))
def test_the_pieces_of_a_bar_are_to_scale_without_gaps_and_leave_room_for_the_numbers_beside(counts):
    chart = str(status_bar(dict(zip(STATUS_LOOKS, counts, strict=True)), "one", _WORDS))
    pieces = re.findall(r'<rect x="([\d.]+)%"[^>]* width="([\d.]+)%"', chart)
    edges = [(float(left), float(left) + float(width)) for left, width in pieces]
    assert len(edges) == sum(count > 0 for count in counts)
    assert all(abs(end - start) < 0.02 for (_, end), (start, _) in pairwise(edges))
    inside = re.findall('text-anchor="middle"', chart)
    letters = "".join(re.findall(r'<text x="\d[\d.]*" y="4.5"[^>]*>([\d,]+)<', chart))
    beside = 100 * (24 * (len(edges) - len(inside)) + 7.2 * len(letters)) / 340
    assert not edges or edges[0][0] == 0
    assert not edges or edges[-1][1] + beside <= 100.02
    if beside == 0 and edges:
        assert abs(edges[-1][1] - 100) < 0.02
    for count, (start, end) in zip([count for count in counts if count], edges, strict=True):
        assert abs((end - start) - edges[-1][1] * count / sum(counts)) < 0.04


def test_a_bar_without_cores_is_empty():
    chart = str(status_bar(dict.fromkeys(STATUS_LOOKS, 0), "one", _WORDS))
    assert "<rect" not in chart
    assert _description(chart) == "Flagged 0, Pending 0, Reinstated 0."


def test_a_number_is_beside_the_bar_where_its_piece_is_too_narrow():
    """Beside the bar, a symbol with its gaps takes 24 pixels and a digit 7.2, of 340: the bar has 90.8 percent left.

    One of 100 cores is then 0.91 percent wide; a number of one digit needs 2 letters, 4.2 percent.
    """
    chart = str(status_bar({"flagged": 1, "pending": 0, "reinstated": 99}, "one", _WORDS))
    assert re.findall("<text[^>]*>([^<]*)</text>", chart) == ["99", "1"]
    assert _widths(chart, 26) == [0.91, 89.92]
    beside = chart.split('<svg x="90.82%"')[1]
    assert STATUS_LOOKS["flagged"].path in beside
    assert ">1</text>" in beside


def test_every_number_of_a_short_bar_is_beside_it():
    """Two bars, of 1,000 and 3 cores: the three numbers of the short bar have room, so the long one is full width."""
    counts = pd.DataFrame({"flagged": [0, 1], "pending": [0, 1], "reinstated": [1000, 1]}, index=["A", "B"])
    chart = str(stacked_bars(counts, "one", "Title", _WORDS))
    assert _widths(chart, 18) == [100.0, 0.1, 0.1, 0.1]
    assert chart.count('<svg x="0.30%"') == 3


def test_a_bar_shows_each_count_and_a_name_is_escaped():
    counts = pd.DataFrame({"flagged": [0, 30], "pending": [20, 0], "reinstated": [40, 30]}, index=["<b>A", "B" * 60])
    chart = str(stacked_bars(counts, "one", "Title", _WORDS))
    assert "&lt;b&gt;A: Flagged 0, Pending 20, Reinstated 40" in chart
    assert "<b>" not in chart
    # both bars are 60 long: a third, a half, a half and two thirds of the width
    assert sorted(_widths(chart, 18)) == [33.33, 50.0, 50.0, 66.67]


def test_bars_share_the_scale_of_the_longest():
    counts = pd.DataFrame({"flagged": [50, 10], "pending": [50, 10], "reinstated": [0, 5]}, index=["A", "B"])
    assert _widths(str(stacked_bars(counts, "one", "Title", _WORDS)), 18) == [50.0, 50.0, 10.0, 10.0, 5.0]


def test_no_bars_give_an_empty_chart():
    chart = str(stacked_bars(pd.DataFrame({"flagged": [], "pending": [], "reinstated": []}), "one", "Title", _WORDS))
    assert 'height="0"' in chart
    assert "<rect" not in chart


def test_columns_are_as_high_as_their_counts():
    chart = str(columns_chart(pd.Series([10, 5, 0], index=["a", "b", "c"]), "one", "Title", "#ffffff", _WORDS))
    assert [float(tall) for tall in re.findall(r'height="([\d.]+)" fill', chart)] == [120.0, 60.0, 0.0]
    assert _description(chart) == "a: 10; b: 5; c: 0"


def test_an_interval_is_drawn_to_scale():
    """92 percent of the width, from 4 on, are the scale's 40 percent: 10 % is at 27, 20 % at 50, 40 % at 96."""
    bar = str(interval_bar(0.1, 0.2, 0.4, 0.4, is_filled=False))
    assert 'x1="27.00%" y1="7.0" x2="96.00%"' in bar
    assert 'cx="50.00%"' in bar
    assert not _is_filled(bar)


def test_an_interval_beyond_the_scale_ends_at_its_end_and_a_filled_dot_is_dark():
    bar = str(interval_bar(0.3, 0.6, 0.9, 0.4, is_filled=True))
    assert 'x1="73.00%" y1="7.0" x2="96.00%"' in bar
    assert 'cx="96.00%" cy="7"' in bar
    assert _is_filled(bar)


def test_lines_run_through_their_counts():
    """Two lines over three rows: at 2, 36 and 70 percent, four of four at 20 pixels, none at 140."""
    counts = pd.DataFrame({"A": [0, 2, 4], "B": [4, 4, 0]}, index=["x", "y", "z"])
    chart = str(curves(counts, "one", "Title", "threshold", _WORDS))
    line = r'<line x1="([\d.]+)%" y1="([\d.]+)" x2="([\d.]+)%" y2="([\d.]+)" stroke="#[0-9a-f]{6}" stroke-width="2"'
    assert [tuple(map(float, found)) for found in re.findall(line, chart)] == [
        (2, 140, 36, 80), (36, 80, 70, 20), (2, 20, 36, 20), (36, 20, 70, 140),
    ]  # fmt: skip
    assert _description(chart) == "A: 0 (x), 2 (y), 4 (z); B: 4 (x), 4 (y), 0 (z)"
    assert ">threshold</text>" in chart


def test_lines_that_end_together_have_names_one_above_the_other():
    counts = pd.DataFrame({name: [1, 1] for name in "ABC"}, index=["x", "y"])
    chart = str(curves(counts, "one", "Title", "threshold", _WORDS))
    heights = sorted(float(y) for y in re.findall(r'<text x="73.00%" y="([\d.]+)"', chart))
    # the highest is a letter of 13 pixels below the top, the others are 16 pixels apart
    assert heights == [13, 29, 45]


@pytest.mark.parametrize("status", STATUS_LOOKS)
def test_a_symbol_is_hidden_from_screen_readers_as_its_name_is_beside_it(status):
    assert 'aria-hidden="true"' in mark(status)
    assert STATUS_LOOKS[status].fill in mark(status)


def test_text_of_a_register_stays_within_its_isolates():
    counts = pd.Series([1], index=[plain_text("a\u202eb")])
    assert ">\u2068a&lt;U+202E&gt;b\u2069</text>" in str(columns_chart(counts, "one", "Title", "#ffffff", _WORDS))
