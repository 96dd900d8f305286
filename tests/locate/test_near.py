"""What of a layer travels with the cores of a cell: all that their reach may touch."""

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st

from pipeline.locate.near import boxes_around, rows_near, rows_of


def test_cores_in_one_square_of_100_m_share_a_box_as_wide_as_the_longest_reach_among_them():
    """Squares begin at multiples of 100 m: 10 and 90 m lie in one, 100 m in the next; so do they northward."""
    x, y = np.array([100.0, 10, 90, 10, 110]), np.array([20.0, 20, 80, 100, 150])
    boxes = boxes_around(x, y, np.array([1.0, 5, 15, 2, 4]))
    assert shapely.bounds(boxes).tolist() == [
        [-5, 5, 105, 95],
        [8, 98, 12, 102],
        [99, 19, 101, 21],
        [106, 146, 114, 154],
    ]


def test_no_core_has_no_box():
    assert len(boxes_around(np.empty(0), np.empty(0), np.empty(0))) == 0


def test_rows_near_are_those_within_reach_of_any_core_in_order_and_once():
    """Five streets 1 km apart; one core 8 m from the fourth, two 3 m from the second."""
    lines = np.array([shapely.LineString([(0, y), (500, y)]) for y in (0, 1000, 2000, 3000, 4000)])
    tree = shapely.STRtree(lines)
    x, y = np.array([450.0, 20, 220]), np.array([3008.0, 1003, 1003])
    assert rows_near(tree, x, y, np.full(3, 8.0)).tolist() == [1, 3]
    assert rows_near(tree, x, y, np.full(3, 7.9)).tolist() == [1]
    assert rows_near(tree, x, y, np.array([8.0, 2.9, 3.0])).tolist() == [1, 3]


@given(
    cores=st.lists(
        st.tuples(st.integers(-400, 400), st.integers(-400, 400), st.integers(0, 90)), min_size=1, max_size=9
    )
)
def test_nothing_within_reach_of_a_core_is_left_behind(cores):
    """The second method: the distance of every point of a grid from every core."""
    x, y, reach = np.array(cores, dtype=float).T
    east, north = (side.ravel() for side in np.meshgrid(np.arange(-500, 501, 50), np.arange(-500, 501, 50)))
    near = np.hypot(east[:, None] - x, north[:, None] - y) <= reach
    found = rows_near(shapely.STRtree(shapely.points(east, north)), x, y, reach)
    assert set(np.flatnonzero(near.any(axis=1))) <= set(found.tolist())


def test_rows_of_are_where_the_wanted_keys_lie_in_the_order_in_which_they_are_wanted():
    keys = np.array([0, 0, 1, 3, 3, 3])
    assert rows_of(keys, np.array([3, 0, 2])).tolist() == [3, 4, 5, 0, 1]
    assert rows_of(keys, np.array([2])).tolist() == []
