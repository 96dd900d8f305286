"""Tests of where names and numbers go on a small map."""

import itertools
import math

import numpy as np
import pytest
import shapely

from pipeline.publish.plan.labels import label_width, place_markers, place_names
from pipeline.publish.plan.streets import Street


def _street(name, *points, has_stop=True):
    return Street(name, shapely.LineString(points), has_stop)


def test_a_text_is_as_wide_as_its_letters():
    # Helvetica: i 0.22, m 0.86, a and digits 0.556; East Asian letters are square
    assert label_width("im", 10) == pytest.approx(10.8)
    assert label_width("a1", 1) == pytest.approx(1.112)
    assert label_width("道路", 4) == pytest.approx(8)


def test_marks_of_stops_at_one_place_stand_beside_each_other_and_the_first_stays():
    marks = place_markers(np.array([[50.0, 25.0]] * 7), 6, 100, 50)
    assert not marks[0].is_apart
    assert all(mark.is_apart for mark in marks[1:])
    for one, other in itertools.combinations(marks, 2):
        assert math.hypot(one.x - other.x, one.y - other.y) >= 6
    assert {(mark.at_x, mark.at_y) for mark in marks} == {(50.0, 25.0)}


def test_a_mark_stays_inside_the_map():
    (mark,) = place_markers(np.array([[1.0, 1.0]]), 6, 100, 50)
    assert mark.x >= 3
    assert mark.y >= 3


def test_a_name_lies_along_its_street_and_is_never_upside_down():
    labels = place_names([_street("Quay Road", (80, 10), (20, 40))], [], 4, 6, 100, 50)
    # from (20, 40) up to (80, 10): 30 up over 60 along
    assert labels[0].angle == pytest.approx(-math.degrees(math.atan2(30, 60)))


def test_a_name_does_not_cover_a_stop_or_another_name():
    marks = place_markers(np.array([[50.0, 40.0]]), 6, 100, 80)
    streets = [_street("Quay Road", (0, 40), (100, 40)), _street("Oat Lane", (50, 0), (50, 80), has_stop=False)]
    labels = place_names(streets, marks, 4, 6, 100, 80)
    assert [label.text for label in labels] == ["Quay Road", "Oat Lane"]
    assert abs(labels[0].x - 50) > label_width("Quay Road", 4) / 2 + 3


def test_the_street_of_a_stop_is_named_even_where_it_is_too_short_and_another_is_not():
    short = ((48, 25), (52, 25))
    assert [label.text for label in place_names([_street("Quay Road", *short)], [], 4, 6, 100, 50)] == ["Quay Road"]
    assert place_names([_street("Quay Road", *short, has_stop=False)], [], 4, 6, 100, 50) == []
