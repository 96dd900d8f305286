import numpy as np
import pytest

from tests.plan.streets.roads import network


@pytest.mark.parametrize(("apart", "gaps", "parts"), [(0.8, 1, 1), (1.0, 1, 1), (1.2, 0, 2)])
def test_a_gap_between_two_ends_is_closed_up_to_the_limit(apart, gaps, parts):
    roads = network([(0, 0), (10, 0)], [(10 + apart, 0), (20, 0)])
    assert (roads.gaps, roads.part.max() + 1) == (gaps, parts)


def test_a_closed_gap_is_as_long_as_it_is_wide():
    """0.3 m east and 0.4 m north."""
    roads = network([(0, 0), (10, 0)], [(10.3, 0.4), (20, 0.4)])
    assert roads.length[np.isnan(roads.start)] == pytest.approx([0.5])


def test_a_line_is_split_where_another_ends_at_its_middle():
    """::

    0,0 ------+------ 10,0
              |
             4,-5
    """
    roads = network([(0, 0), (10, 0)], [(4, 0), (4, -5)])
    assert (roads.splits, roads.gaps) == (1, 0)
    assert set(roads.part) == {0}
    assert roads.length[np.isfinite(roads.start)].tolist() == [4, 6, 5]


def test_a_line_that_touches_another_is_no_gap_even_where_none_is_closed():
    """Half a millimetre apart, as after a change of CRS."""
    roads = network([(0, 0), (10, 0)], [(4, -0.0005), (4, -5)], gap_m=0)
    assert (roads.splits, roads.gaps) == (1, 0)
    assert set(roads.part) == {0}


def test_a_line_is_split_where_another_ends_within_the_gap_of_its_middle():
    roads = network([(0, 0), (10, 0)], [(4, -0.5), (4, -5)])
    assert (roads.splits, roads.gaps) == (1, 1)
    assert roads.length.tolist() == pytest.approx([4, 6, 4.5, 0.5])


def test_an_end_within_the_gap_of_another_end_joins_that_and_splits_nothing():
    """The end at (0.6, 0.6) is nearest to the middle of the first line, and 0.85 m from its end."""
    roads = network([(0, 0), (10, 0)], [(0.6, 0.6), (0.6, 5)])
    assert (roads.splits, roads.gaps) == (0, 1)
    assert roads.length[-1] == pytest.approx(0.6 * 2**0.5)


def test_an_end_beyond_the_line_that_it_crosses_joins_it():
    """The second line goes 0.4 m past the first: no bridge."""
    roads = network([(0, 0), (10, 0)], [(4, -5), (4, 0.4)])
    assert set(roads.part) == {0}
    assert (roads.splits, roads.gaps) == (1, 1)


def test_four_ends_that_miss_one_junction_have_three_gaps():
    roads = network(
        [(9.8, 0), (0, 0)],
        [(10.2, 0), (20, 0)],
        [(10, 0.2), (10, 9)],
        [(10, -0.2), (10, -9)],
    )
    assert roads.gaps == 3
    assert set(roads.part) == {0}


def test_lines_that_are_connected_already_have_no_gap():
    """A line of 0.6 m leads from the end of the second to the first."""
    roads = network([(0, 0), (10, 0)], [(0, 0), (0, 0.6)], [(0, 0.6), (0, 5)])
    assert roads.gaps == 0
    assert np.isfinite(roads.start).all()


def test_an_end_above_a_tunnel_does_not_join_it():
    roads = network([(0, 0), (10, 0)], [(4, 0), (4, -5)], underground=[0])
    assert roads.splits == 0
    assert roads.part.max() == 1


def test_a_tunnel_joins_the_road_that_it_shares_an_end_with():
    roads = network([(0, 0), (10, 0)], [(10, 0), (20, 0)], underground=[0])
    assert set(roads.part) == {0}


def test_a_layer_without_gaps_has_no_links():
    roads = network([(0, 0), (10, 0)])
    assert (roads.gaps, roads.splits, len(roads.tail)) == (0, 0, 1)
