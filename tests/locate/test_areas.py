"""Points and the polygons that hold them."""

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.locate.areas import pairs_in


def _pairs(points, boxes):
    x, y = (np.array(axis, dtype=float) for axis in zip(*points))
    found = pairs_in(x, y, np.array([shapely.box(*box) for box in boxes]))
    return list(zip(found.point.tolist(), found.polygon.tolist(), found.inside.tolist()))


def test_a_point_is_paired_with_every_polygon_that_holds_it_sorted_by_point_then_polygon():
    boxes = [(0, 0, 10, 10), (5, 0, 20, 10)]
    assert _pairs([(7, 5), (2, 5), (15, 5), (30, 5)], boxes) == [
        (0, 0, True), (0, 1, True), (1, 0, True), (2, 1, True),
    ]  # fmt: skip


def test_a_point_on_a_shared_edge_is_in_both_and_inside_neither():
    assert _pairs([(10, 5)], [(0, 0, 10, 10), (10, 0, 20, 10)]) == [(0, 0, False), (0, 1, False)]


def test_a_point_inside_one_polygon_and_on_the_edge_of_another_is_inside_the_first_alone():
    assert _pairs([(10, 5)], [(0, 0, 20, 10), (10, 0, 20, 10)]) == [(0, 0, True), (0, 1, False)]


def test_on_the_edge_of_a_single_polygon_a_point_counts_as_inside():
    assert _pairs([(10, 5)], [(0, 0, 10, 10)]) == [(0, 0, True)]


def test_a_point_without_a_position_is_in_no_polygon_and_the_others_keep_their_numbers():
    assert _pairs([(np.nan, 5), (5, np.nan), (np.inf, 5), (5, 5)], [(0, 0, 10, 10)]) == [(3, 0, True)]


def test_a_hole_holds_no_point():
    ring = shapely.box(0, 0, 10, 10).difference(shapely.box(4, 4, 6, 6))
    found = pairs_in(np.array([5.0, 2.0]), np.array([5.0, 2.0]), np.array([ring]))
    assert found.point.tolist() == [1]


@settings(deadline=None, max_examples=40)
@given(
    points=st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=1, max_size=12),
    corners=st.lists(st.tuples(*[st.integers(0, 12)] * 4), min_size=1, max_size=6),
)
def test_the_pairs_are_those_of_comparing_every_point_with_every_box(points, corners):
    boxes = [(min(a, c), min(b, d), max(a, c) + 1, max(b, d) + 1) for a, b, c, d in corners]
    expected = []
    for point, (x, y) in enumerate(points):
        held = [number for number, (w, s, e, n) in enumerate(boxes) if w <= x <= e and s <= y <= n]
        for number in held:
            west, south, east, north = boxes[number]
            strictly = west < x < east and south < y < north
            expected.append((point, number, strictly or len(held) == 1))
    assert _pairs(points, boxes) == expected
