import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from pipeline.plan.streets.nearby import each_once, nearby_of

_POINTS = st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=1, max_size=12)


def test_the_nodes_on_the_sides_of_a_box_are_in_it():
    xy = np.array([[0.0, 0], [5, 5], [5, 0], [6, 3], [2, 2]])
    found = nearby_of(xy, np.array([], int), np.array([], int)).nodes_in(np.array([2.0, 2]), np.array([5.0, 5]))
    assert sorted(found) == [1, 4]


def test_an_edge_between_two_of_the_nodes_is_found_once():
    """Edges 0-1, 1-2, 2-0 and 2-2."""
    nearby = nearby_of(np.zeros((4, 2)), np.array([0, 1, 2, 2]), np.array([1, 2, 0, 2]))
    assert nearby.edges_of(np.array([0, 1])).tolist() == [0, 1, 2]
    assert nearby.edges_of(np.array([2])).tolist() == [1, 2, 3]
    assert nearby.edges_of(np.array([3])).tolist() == []


@given(_POINTS, st.tuples(*[st.integers(-1, 10)] * 4))
def test_the_nodes_in_a_box_are_those_that_a_look_at_each_finds(points, box):
    xy, low, high = np.array(points, float), np.array(box[:2], float), np.array(box[2:], float)
    found = nearby_of(xy, np.array([], int), np.array([], int)).nodes_in(low, high)
    assert sorted(found) == np.flatnonzero(((xy >= low) & (xy <= high)).all(axis=1)).tolist()


def test_each_number_comes_once_and_in_order():
    assert each_once(np.array([5, 2, 5, 0, 2])).tolist() == [0, 2, 5]
    assert each_once(np.array([], np.int64)).tolist() == []
