"""Tests of how bent lines are."""

import numpy as np
import shapely

from pipeline.publish.plan.street_chords import chords_of


def test_a_bend_is_the_farthest_that_a_line_is_from_its_chord():
    # 3 above the middle; and past the end of the chord by 4, back at its height
    lines = [shapely.LineString([(0, 0), (5, 3), (10, 0)]), shapely.LineString([(0, 0), (14, 0), (10, 0)])]
    chords = chords_of(np.array(lines, object))
    assert chords.bend.tolist() == [3, 4]
    assert chords.ends.tolist() == [[[0, 0], [10, 0]], [[0, 0], [10, 0]]]


def test_a_ring_and_several_lines_have_no_chord():
    ring = shapely.LineString([(0, 0), (1, 0), (1, 1), (0, 0)])
    several = shapely.MultiLineString([[(0, 0), (1, 0)], [(2, 0), (3, 0)]])
    assert chords_of(np.array([ring, several], object)).bend.tolist() == [np.inf, np.inf]
    assert len(chords_of(np.array([], object)).bend) == 0


def test_what_bends_less_than_the_tolerance_is_simplified_to_its_chord():
    random = np.random.default_rng(2)
    points = np.cumsum(random.normal(0, 1, (300, 6, 2)), axis=1)
    lines = shapely.linestrings(points)
    chords = chords_of(lines)
    simplified = shapely.simplify(lines, 1.5)
    is_chord = chords.bend < 1.5
    assert 20 < is_chord.sum() < 280
    assert ((shapely.get_num_coordinates(simplified) == 2) == is_chord).all()
