"""Which cores are within reach, and which are packed beforehand."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.order.mixes.clusters import ONE_BAG
from pipeline.order.mixes.reach import connected, pairs_within, thin_out


def _at(*points):
    x, y = (np.array(axis, dtype=float) for axis in zip(*points, strict=True))
    return x, y, np.zeros(len(x), dtype=np.int64)


def test_pairs_are_those_up_to_the_reach_itself():
    """0, 50 and 50.01 m from the first core: only the first of the two is within 50 m."""
    x, y, group = _at((0, 0), (30, 40), (-30, -40.01))
    assert pairs_within(x, y, group, 50).tolist() == [[0, 1]]


def test_pairs_have_the_lower_core_first_and_ascend():
    x, y, group = _at((20, 0), (0, 0), (10, 0), (30, 0))
    assert pairs_within(x, y, group, 15).tolist() == [[0, 2], [0, 3], [1, 2]]


def test_cores_of_different_groups_are_never_a_pair():
    x, y, _ = _at((0, 0), (0, 0), (0, 0))
    assert pairs_within(x, y, np.array([0, 1, 0]), 50).tolist() == [[0, 2]]
    assert pairs_within(x, y, np.array([0, 1, 2]), 0).tolist() == []


@pytest.mark.parametrize("count", [0, 1])
def test_fewer_than_two_cores_have_no_pair(count):
    none = np.zeros(count)
    assert pairs_within(none, none, none.astype(np.int64), 50).shape == (0, 2)


def test_far_coordinates_make_no_difference():
    x, y, group = _at((0, 0), (30, 40), (100, 0))
    assert pairs_within(x + 500_000, y + 5_000_000, group, 50).tolist() == pairs_within(x, y, group, 50).tolist()


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 100), st.integers(0, 100), st.integers(0, 2)), min_size=2, max_size=25))
def test_pairs_are_all_those_that_a_plain_search_finds(points):
    x, y, group = (np.array(part) for part in zip(*points, strict=True))
    found = {tuple(pair) for pair in pairs_within(x.astype(float), y.astype(float), group, 30).tolist()}
    assert found == {
        (one, other)
        for one, other in combinations(range(len(points)), 2)
        if group[one] == group[other] and (x[one] - x[other]) ** 2 + (y[one] - y[other]) ** 2 <= 900
    }


def test_components_are_numbered_by_their_first_core():
    # 0 and 3, 1, 2 and 4 by way of 5
    assert connected(6, np.array([[0, 3], [2, 5], [4, 5]])).tolist() == [0, 1, 2, 0, 2, 2]
    assert connected(2, np.empty((0, 2), dtype=np.int64)).tolist() == [0, 1]


def _spot(count, size_m, seed=1):
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0, size_m, (2, count))
    return x, y, rng.integers(1, ONE_BAG, count), np.zeros(count, dtype=np.int64)


def test_up_to_sixteen_cores_in_a_square_are_left_as_they_are():
    thinned = thin_out(*_spot(16, 20), 50)
    assert not thinned.is_packed.any()
    assert (thinned.square == -1).all()
    assert len(thinned.links) == 0


@pytest.mark.parametrize("count", [17, 100, 1000])
def test_a_dense_square_keeps_eight_to_sixteen_cores(count):
    thinned = thin_out(*_spot(count, 20), 50)
    assert 8 <= (~thinned.is_packed).sum() <= 16
    assert len(np.unique(thinned.square)) == 1


def test_packing_stops_where_the_last_bag_is_fullest():
    """Twenty cores of 0.3 bags: of 4 to 12 packed, 10 fill three bags exactly."""
    x, y, _, group = _spot(20, 20)
    thinned = thin_out(x, y, np.full(20, 3 * ONE_BAG // 10), group, 50)
    assert thinned.is_packed.sum() == 10


def test_a_small_spot_on_the_border_of_squares_is_one_square():
    """Cores within 30 m of each other, about a corner of the squares of a distant core."""
    x, y, need, group = _spot(40, 20)
    x, y = np.append(x + 25.0, 0.0), np.append(y + 25.0, 0.0)
    thinned = thin_out(x, y, np.append(need, 1), np.append(group, 0), 50)
    assert len(np.unique(thinned.square[:40])) == 1


def test_groups_are_thinned_each_by_itself():
    x, y, need, group = _spot(34, 5)
    group[17:] = 1
    thinned = thin_out(x, y, need, group, 50)
    assert thinned.square[0] != thinned.square[17]
    assert all(8 <= (~thinned.is_packed[group == one]).sum() <= 16 for one in (0, 1))


def test_without_a_reach_only_cores_at_one_position_are_packed():
    x, y, need, group = _spot(40, 20)
    assert not thin_out(x, y, need, group, 0).is_packed.any()
    same = thin_out(x * 0, y * 0, need, group, 0)
    assert 8 <= (~same.is_packed).sum() <= 16


def test_links_connect_all_that_the_packed_cores_connected():
    rng = np.random.default_rng(4)
    x, y = rng.uniform(0, 150, (2, 300))
    need, group = rng.integers(1, ONE_BAG, 300), np.zeros(300, dtype=np.int64)
    thinned = thin_out(x, y, need, group, 40)
    assert thinned.is_packed.any()
    left = np.flatnonzero(~thinned.is_packed)
    inner = left[pairs_within(x[left], y[left], group[left], 40)]
    joined = connected(300, np.concatenate([inner, thinned.links]))
    whole = connected(300, pairs_within(x, y, group, 40))
    # cores of one component stay in one
    assert len({(one, other) for one, other in zip(whole.tolist(), joined.tolist())}) == whole.max() + 1
