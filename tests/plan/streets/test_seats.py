import numpy as np
import pytest

from tests.plan.streets.roads import network, seated


def test_a_place_is_on_the_edge_that_its_chainage_lies_on():
    """The line is split 4 m along: 3 m is on the first edge, 5 m on the second, 10 m at the end of it."""
    roads = network([(0, 0), (10, 0)], [(4, 0), (4, -5)])
    seats, _ = seated(roads, (0, 3, 0, 3, 0), (0, 5, 0, 5, 0), (0, 10, 0, 10, 0), (1, 2, 0, 4, -2))
    assert seats.edge.tolist() == [0, 1, 1, 2]
    assert seats.mark.tolist() == pytest.approx([3, 5, 10, roads.first[1] + 2])


def test_the_way_to_the_road_is_the_offset():
    seats, _ = seated(network([(0, 0), (10, 0)]), (0, 3, 2.5, 3, 2.5))
    assert seats.leg_m.tolist() == [2.5]


def test_a_place_without_a_segment_joins_at_the_nearest_end_by_a_straight_line_and_a_detour():
    """3 m east and 4 m north of the end at (10, 0): 5 m, times 1.4."""
    roads = network([(0, 0), (10, 0)])
    seats, _ = seated(roads, (None, np.nan, np.nan, 13, 4))
    assert seats.edge.tolist() == [-1]
    assert roads.xy[seats.node[0]].tolist() == [10, 0]
    assert seats.leg_m.tolist() == pytest.approx([7])


@pytest.mark.parametrize(("along", "mark"), [(-1, 0), (10.5, 10)])
def test_a_chainage_beyond_the_line_is_its_end(along, mark):
    seats, _ = seated(network([(0, 0), (10, 0)]), (0, along, 0, 0, 0))
    assert (seats.edge.tolist(), seats.mark.tolist()) == ([0], [mark])


def test_a_start_that_is_nowhere_has_a_seat_all_the_same():
    """A crew without work has no start."""
    seats, _ = seated(network([(0, 0), (10, 0)]), (None, np.nan, np.nan, np.nan, np.nan))
    assert (seats.edge.tolist(), seats.node.tolist()) == ([-1], [0])
