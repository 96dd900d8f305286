"""Tests of where the numbers of stops go on a small map."""

import itertools
import math

import numpy as np

from pipeline.publish.plan.markers import place_markers


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


def test_where_every_place_is_taken_a_mark_goes_to_its_stop():
    # 61 places for each: more marks than that cover each other, but all stay inside
    marks = place_markers(np.array([[50.0, 50.0]] * 80), 6, 100, 100)
    assert (marks[-1].x, marks[-1].y) == (50.0, 50.0)
