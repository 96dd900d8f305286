import numpy as np
import pytest

from pipeline.plan.streets.ways import ways
from tests.plan.streets.roads import network, seated


def test_the_line_from_place_to_place_follows_the_bends_either_way():
    """::

    place 0 (offset 2)          place 1
       |                           |
    0,0 ---- 10,0                  |
               |                   |
             10,-5 ---- 20,-5 -- 30,-5 -- 40,-5
    """
    roads = network([(0, 0), (10, 0), (10, -5), (20, -5)], [(20, -5), (40, -5)])
    seats, xy = seated(roads, (0, 4, 2, 4, 2), (1, 10, 3, 30, -2))
    there, back = ways(roads, seats, xy, np.array([0, 1, 0]))
    expected = [[4, 2], [4, 0], [10, 0], [10, -5], [20, -5], [30, -5], [30, -2]]
    assert there.tolist() == pytest.approx(np.array(expected))
    assert back.tolist() == pytest.approx(np.array(expected[::-1]))


def test_the_line_across_a_closed_gap_is_straight():
    roads = network([(0, 0), (10, 0)], [(10.8, 0), (20, 0)])
    seats, xy = seated(roads, (0, 4, 0, 4, 0), (1, 5, 0, 15.8, 0))
    (way,) = ways(roads, seats, xy, np.array([0, 1]))
    assert way.tolist() == pytest.approx(np.array([[4, 0], [10, 0], [10.8, 0], [15.8, 0]]))


def test_the_line_between_parts_that_are_not_connected_is_straight():
    roads = network([(0, 0), (10, 0)], [(0, 50), (10, 50)])
    seats, xy = seated(roads, (0, 0, 0, 0, 0), (1, 0, 0, 0, 50))
    (way,) = ways(roads, seats, xy, np.array([0, 1]))
    assert way.tolist() == [[0, 0], [0, 50]]


def test_the_line_from_a_place_without_a_segment_begins_at_the_nearest_end():
    roads = network([(0, 0), (10, 0)])
    seats, xy = seated(roads, (None, 0, 0, 13, 4), (0, 6, 0, 6, 0))
    (way,) = ways(roads, seats, xy, np.array([0, 1]))
    assert way.tolist() == pytest.approx(np.array([[13, 4], [10, 0], [6, 0]]))


def test_the_line_from_a_place_to_itself_has_two_equal_points():
    roads = network([(0, 0), (10, 0)])
    seats, xy = seated(roads, (0, 6, 0, 6, 0))
    (way,) = ways(roads, seats, xy, np.array([0, 0]))
    assert way.tolist() == [[6, 0], [6, 0]]
