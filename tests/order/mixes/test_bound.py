"""The proven lower bound: never above what any clustering takes, and exact where prices show it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.order.mixes.bound import _raise, _sets, price_bound
from pipeline.order.mixes.clusters import ONE_BAG, bags_by
from pipeline.order.mixes.merging import merge_and_improve
from pipeline.order.mixes.reach import connected, pairs_within

_TENTH = ONE_BAG // 10


def _pairs(*pairs):
    return np.array(pairs, dtype=np.int64).reshape(-1, 2)


def _bound(need, *pairs):
    need = np.array(need, dtype=np.int64) * _TENTH
    pairs = _pairs(*pairs)
    return price_bound(need, connected(len(need), pairs), pairs).tolist()


def test_without_pairs_every_core_takes_its_own_bag():
    assert _bound([1, 9, 5]) == [1, 1, 1]


def test_within_reach_the_bound_is_the_rounded_sum():
    assert _bound([3, 3, 3, 3], *((one, other) for one in range(4) for other in range(one + 1, 4))) == [2]


def test_in_a_row_of_three_the_ends_cannot_share():
    # 0.1 + 0.1 + 0.1 is less than a bag, but the two ends are out of reach of each other
    assert _bound([1, 1, 1], (0, 1), (1, 2)) == [2]


def test_a_star_of_four_ends_takes_four_bags():
    """The middle reaches all ends, no end another: it shares with one of them."""
    assert _bound([1, 1, 1, 1, 1], (0, 1), (0, 2), (0, 3), (0, 4)) == [4]


def test_components_are_bounded_each_by_itself():
    assert _bound([6, 5, 1, 1], (0, 1), (2, 3)) == [2, 1]


def test_no_cores_have_no_bound():
    none = np.array([], dtype=np.int64)
    assert price_bound(none, none, _pairs()).tolist() == []


def test_sets_are_all_cliques_by_size():
    """A triangle 0 1 2 with a tail 2 - 3."""
    sets = _sets(np.zeros(4, dtype=np.int64), _pairs((0, 1), (0, 2), (1, 2), (2, 3)), 4)
    assert [one.tolist() for one in sets] == [[[0], [1], [2], [3]], [[0, 1], [0, 2], [1, 2], [2, 3]], [[0, 1, 2]]]


def test_a_component_with_too_many_sets_lists_none_and_others_still_do():
    """Twelve cores all within reach have 4,095 sets, more than 60 each; two more have three."""
    pairs = [(one, other) for one in range(12) for other in range(one + 1, 12)]
    component = np.repeat([0, 1], [12, 2])
    sets = _sets(component, _pairs(*pairs, (12, 13)), 14)
    assert {tuple(row) for one in sets for row in one.tolist()} == {(12,), (13,), (12, 13)}
    need = np.full(14, 4 * _TENTH)
    assert price_bound(need, component, _pairs(*pairs, (12, 13))).tolist() == [5, 1]


def test_prices_are_raised_until_every_core_is_in_a_set_that_is_paid_for():
    # two cores within reach, one bag together: the first pays all of it
    member, of_set = np.array([0, 1, 0, 1]), np.array([0, 1, 2, 2])
    bags = np.full(3, ONE_BAG)
    raised = _raise(np.zeros(2, dtype=np.int64), member, of_set, bags, _pairs((0, 1)))
    assert raised.sum() == ONE_BAG
    assert (raised >= 0).all()


@pytest.mark.parametrize("start", [0, 1, 5])
def test_prices_that_start_at_a_share_of_the_need_never_exceed_a_set(start):
    need = np.array([4, 5], dtype=np.int64) * _TENTH
    member, of_set = np.array([0, 1, 0, 1]), np.array([0, 1, 2, 2])
    raised = _raise(need * start // 10, member, of_set, np.full(3, ONE_BAG), _pairs((0, 1)))
    assert raised.sum() <= ONE_BAG


@settings(max_examples=40, deadline=None)
@given(count=st.integers(1, 40), seed=st.integers(0, 9999), side_m=st.sampled_from([40.0, 120.0, 400.0]))
def test_no_clustering_found_takes_fewer_bags_than_the_bound(count, seed, side_m):
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0, side_m, (2, count))
    need = rng.integers(1, ONE_BAG, count)
    pairs = pairs_within(x, y, np.zeros(count, dtype=np.int64), 50)
    component = connected(count, pairs)
    bound = price_bound(need, component, pairs)
    cluster = merge_and_improve(x, y, need, component, pairs)
    names = np.unique(cluster)
    taken = np.bincount(component[names], bags_by(cluster, need)[names])
    assert (bound <= taken).all()
    assert (bound >= bags_by(component, need)).all()
