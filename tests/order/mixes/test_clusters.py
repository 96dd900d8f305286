"""The one way in which clusters are written: each is named by its lowest core. Every function keeps to it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.order.mixes.clusters import ONE_BAG, bags_by, bags_of, cluster_names, name_clusters
from pipeline.order.mixes.fewest import reach_bits, split_by_programme, split_few
from pipeline.order.mixes.merging import _improve, _merge, _move, merge_and_improve, split_again
from pipeline.order.mixes.reach import connected, pairs_within, thin_out
from pipeline.order.mixes.sharing import _cluster, _cluster_able, _solve

_REACH_M = 50.0


def _is_named(cluster):
    """Whether every cluster is named by its lowest core."""
    core = np.arange(len(cluster))
    return bool((cluster <= core).all() and (cluster[cluster] == cluster).all() and cluster.min(initial=0) >= 0)


def test_clusters_are_named_by_their_lowest_core():
    # cores 0 and 3, 1 alone, 2 and 4
    assert name_clusters(np.array([9, 2, 5, 9, 5])).tolist() == [0, 1, 2, 0, 2]
    assert name_clusters(np.array([], dtype=np.int64)).tolist() == []


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(-5, 50), max_size=30))
def test_names_keep_to_the_invariant_and_group_as_the_labels_do(labels):
    label = np.array(labels, dtype=np.int64)
    cluster = name_clusters(label)
    assert _is_named(cluster)
    same = label[:, None] == label[None]
    assert ((cluster[:, None] == cluster[None]) == same).all()
    # a clustering describes itself, and any one-to-one change of labels the same one
    assert name_clusters(cluster).tolist() == cluster.tolist()
    assert name_clusters(7 - 3 * label).tolist() == cluster.tolist()


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 9), min_size=1, max_size=30), st.data())
def test_a_clustering_of_some_cores_becomes_one_of_all_by_a_lookup(labels, data):
    count = len(labels)
    some = np.flatnonzero(data.draw(st.lists(st.booleans(), min_size=count, max_size=count)))
    cluster = np.arange(count)
    cluster[some] = some[name_clusters(np.array(labels, dtype=np.int64)[some])]
    assert _is_named(cluster)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 9), max_size=30))
def test_the_names_are_the_clusters_once_each_in_order(labels):
    cluster = name_clusters(np.array(labels, dtype=np.int64))
    assert cluster_names(cluster).tolist() == sorted(set(cluster.tolist()))


@pytest.mark.parametrize(
    ("need", "bags"), [(0, 0), (1, 1), (ONE_BAG - 1, 1), (ONE_BAG, 1), (ONE_BAG + 1, 2), (5 * ONE_BAG, 5)]
)
def test_bags_are_needs_rounded_up(need, bags):
    assert bags_of(np.array([need])).tolist() == [bags]


def test_bags_of_each_cluster_stand_at_its_name():
    # 0.4 + 0.7 = 1.1 bags at core 0, 0.9 at core 1
    need = np.array([4, 9, 7]) * (ONE_BAG // 10)
    assert bags_by(np.array([0, 1, 0]), need).tolist() == [2, 1]
    assert bags_by(np.array([], dtype=np.int64), need[:0]).tolist() == []


@st.composite
def _problems(draw):
    """Needs below one bag, positions and groups of up to 40 cores."""
    count, seed = draw(st.integers(1, 40)), draw(st.integers(0, 9999))
    rng = np.random.default_rng(seed)
    side_m = draw(st.sampled_from([20.0, 100.0, 300.0]))
    x, y = rng.uniform(0, side_m, (2, count))
    return x, y, rng.integers(1, ONE_BAG, count), rng.integers(0, 2, count)


@settings(max_examples=40, deadline=None)
@given(_problems())
def test_every_function_names_clusters_by_their_lowest_core(problem):
    x, y, need, group = problem
    pairs = pairs_within(x, y, group, _REACH_M)
    component = connected(len(x), pairs)
    start = np.arange(len(x))
    for gather in (False, True):
        merged = _merge(need, pairs, start, gather=gather)
        assert _is_named(merged)
        assert _is_named(_move(need, pairs, merged))
        assert _is_named(_improve(x, y, need, component, pairs, merged, 1.0))
    assert _is_named(merge_and_improve(x, y, need, component, pairs))
    assert _is_named(_solve(x, y, need, component, pairs)[0])
    assert _is_named(_cluster_able(x, y, need, group, _REACH_M)[0])
    assert _is_named(_cluster(x, y, np.sort(group), need, _REACH_M)[0])


@settings(max_examples=30, deadline=None)
@given(_problems())
def test_small_problems_are_split_into_named_clusters_within_reach(problem):
    x, y, need, _ = (part[:8] for part in problem)
    count = len(x)
    pairs = pairs_within(x, y, np.zeros(count, dtype=np.int64), _REACH_M)
    near = reach_bits(1, count, np.zeros(len(pairs), dtype=np.int64), *pairs.T)
    for gather in (False, True):
        split = split_few(need[None], near, gather=gather)[0]
        assert _is_named(split)
        for name in cluster_names(split):
            inside = np.flatnonzero(split == name)
            assert np.hypot(np.ptp(x[inside]), np.ptp(y[inside])) <= 2 * _REACH_M
    programmed, _ = split_by_programme(need, [int(bits) for bits in near[0]])
    assert _is_named(programmed)
    again = split_again(np.arange(count), np.arange(count), np.zeros(count, dtype=np.int64), need, pairs)
    assert again.tolist() == split_few(need[None], near)[0].tolist()


def test_packed_cores_of_a_dense_square_are_one_named_cluster():
    rng = np.random.default_rng(1)
    x, y = rng.uniform(0, 300, (2, 400))
    x[:100], y[:100] = rng.uniform(0, 5, (2, 100))
    need, group = rng.integers(1, ONE_BAG, 400), np.zeros(400, dtype=np.int64)
    assert thin_out(x, y, need, group, _REACH_M).is_packed.any()
    assert _is_named(_cluster_able(x, y, need, group, _REACH_M)[0])
