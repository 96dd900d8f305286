import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plan.streets.roads import network


def test_lines_that_share_an_end_are_connected():
    r"""``0,0 ---- 10,0 ---- 10,5``: three nodes, two edges."""
    roads = network([(0, 0), (10, 0)], [(10, 0), (10, 5)])
    assert len(roads.xy) == 3
    assert roads.length.tolist() == [10, 5]
    assert set(roads.part) == {0}


def test_lines_that_merely_cross_are_not_connected():
    """::

       |
    ---|---   a bridge over a road
       |
    """
    roads = network([(0, 5), (10, 5)], [(5, 0), (5, 10)])
    assert len(roads.tail) == 2
    assert sorted(set(roads.part)) == [0, 1]


def test_lines_that_cross_at_a_vertex_of_both_are_connected_there():
    roads = network([(0, 5), (5, 5), (10, 5)], [(5, 0), (5, 5), (5, 10)])
    assert len(roads.xy) == 5
    assert roads.length.tolist() == [5, 5, 5, 5]
    assert set(roads.part) == {0}


def test_an_end_at_a_vertex_of_another_line_is_connected_there():
    roads = network([(0, 5), (5, 5), (10, 5)], [(5, 5), (5, 0)])
    assert (roads.splits, roads.gaps) == (0, 0)
    assert sorted(roads.length) == [5, 5, 5]


def test_a_bend_is_no_node():
    """3 m east and 4 m north, twice."""
    roads = network([(0, 0), (3, 0), (3, 4), (6, 4), (6, 8)])
    assert len(roads.xy) == 2
    assert roads.length.tolist() == [14]


def test_a_closed_line_is_an_edge_from_its_end_to_itself():
    roads = network([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)])
    assert roads.tail.tolist() == roads.head.tolist() == [0]
    assert roads.length.tolist() == [40]


def test_vertices_that_differ_by_less_than_a_millimetre_are_equal():
    roads = network([(0, 0), (10, 0)], [(10.0002, 0), (20, 0)])
    assert len(roads.xy) == 3
    assert roads.gaps == 0


def test_marks_of_different_lines_never_meet():
    roads = network([(0, 0), (10, 0)], [(10, 0), (20, 0)])
    assert roads.last[0] < roads.first[1]
    assert (roads.last - roads.first).tolist() == [10, 10]


@given(
    st.lists(
        st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=2, max_size=5, unique=True),
        min_size=1,
        max_size=6,
    )
)
def test_the_edges_are_as_long_as_the_lines(lines):
    roads = network(*lines, gap_m=0.2)
    on_lines = np.isfinite(roads.start)
    drawn = sum(np.hypot(*np.diff(np.array(line, float), axis=0).T).sum() for line in lines)
    assert roads.length[on_lines].sum() == pytest.approx(drawn)
    assert (np.diff(roads.start[on_lines]) >= 0).all()
