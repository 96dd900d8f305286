"""Charts of reliability are to scale, told apart by shape, and described in words."""

import re

import pytest

from pipeline.publish.pages.reliability import Point, lowest_of, reliability_chart, reliability_mark
from pipeline.publish.words import words_of

_WORDS = words_of("en")
_POINTS = [Point("after", 0.75, 0.7, 25), Point("before", 0.95, 0.5, 100), Point("after", 1.0, 1.0, 100)]


def _chart(points=_POINTS, lowest=0.5, title="Crew"):
    return str(reliability_chart(points, lowest, 100, "one", title, _WORDS))


@pytest.mark.parametrize(("least", "start"), [(0.93, 0.5), (0.5, 0.5), (0.49, 0.4), (0.3, 0.3), (0.0, 0.0)])
def test_axes_begin_at_a_tenth_below_every_point_and_at_half_at_the_latest(least, start):
    assert lowest_of([Point("after", 0.99, least, 10), Point("before", 1.0, 1.0, 10)]) == pytest.approx(start)
    assert lowest_of([]) == 0.5


def test_marks_lie_to_scale_on_both_axes():
    """Across, 50 % is at 24 and 100 % at 96 of 100; upwards, 100 % is at 22 pixels and 50 % at 152."""
    places = re.findall(r'<svg x="([\d.]+)%" y="([\d.]+)"', _chart())
    assert places == [("88.80", "152.0"), ("60.00", "100.0"), ("96.00", "22.0")]


def test_before_is_a_hollow_square_and_after_a_filled_dot_whose_area_grows_with_the_cores():
    chart = _chart()
    assert [float(radius) for radius in re.findall(r'<circle r="([\d.]+)"', chart)] == [3.2, 6.0]
    assert len(re.findall(r'<rect [^>]*fill="#ffffff"', chart)) == 1
    assert "<rect" in reliability_mark("before")
    assert "<circle" in reliability_mark("after")


def test_only_points_of_one_kind_are_joined():
    joined = re.findall(r'<line [^>]*stroke-opacity="0.5"/>', _chart())
    assert len(joined) == 1
    assert 'x1="60.00%"' in joined[0]


def test_the_numbers_are_in_words_before_first_and_text_is_escaped():
    chart = _chart(title="<b>Crew")
    assert re.search("<desc[^>]*>([^<]*)</desc>", chart)[1] == (
        "before: 95.0% stated, 50.0% agreed (100 cores); after: 75.0% stated, 70.0% agreed (25 cores); "
        "after: 100.0% stated, 100.0% agreed (100 cores)"
    )
    assert "<b>" not in chart
