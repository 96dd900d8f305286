"""The fewest bags, against packings with a known answer and all possible partitions.

Sources: bin packing instances made as in the collection of test problems known as the OR-Library (J. E. Beasley 1990;
from memory): "triplets", three needs per full bag, and "uniform" ones cut from full bags, so that the answer is
known. Cores within reach of each other may top one another up, so their answer is the rounded sum. On a line, and in
the plane, the answer is that of all partitions into clusters, enumerated by code that shares nothing with ours.
"""

import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pipeline.order.mixes.bound import price_bound
from pipeline.order.mixes.clusters import ONE_BAG, bags_by
from pipeline.order.mixes.fewest import reach_bits, split_by_programme, split_few
from pipeline.order.mixes.merging import merge_and_improve
from pipeline.order.mixes.reach import connected, pairs_within
from pipeline.order.mixes.sharing import share_mixes


def _cores(bags, x, y):
    frame = pd.DataFrame({"bags": bags, "x_m": x, "y_m": y}, dtype=float)
    return frame.assign(shade="dark", visit="crew 1", district="Quay")


def _triplets(bags, rng):
    """Return needs of a quarter to half a bag, in thousandths, three of which fill each bag."""
    first = rng.integers(380, 491, bags)
    second = np.array([rng.integers(250, 750 - one + 1) for one in first])
    return np.concatenate([first, second, 1000 - first - second]) / 1000


def _cut(bags, rng):
    """Return full bags, each cut into two to five needs, in thousandths."""
    cuts = [np.sort(rng.choice(np.arange(1, 1000), rng.integers(1, 5), replace=False)) for _ in range(bags)]
    return np.concatenate([np.diff([0, *one, 1000]) for one in cuts]) / 1000


@pytest.mark.parametrize("make", [_triplets, _cut])
@pytest.mark.parametrize("bags", [1, 2, 3, 5, 20, 40, 167])
def test_a_perfect_packing_within_reach_is_found_and_proven(make, bags):
    rng = np.random.default_rng(bags)
    needs = rng.permutation(make(bags, rng))
    groups = share_mixes(_cores(needs, rng.uniform(0, 35, len(needs)), rng.uniform(0, 35, len(needs))), 50).groups
    assert groups[["shared", "bound"]].iloc[0].tolist() == [bags, bags]


@pytest.mark.parametrize("make", [_triplets, _cut])
def test_perfect_packings_apart_from_each_other_are_found_and_proven(make):
    rng = np.random.default_rng(7)
    sizes = rng.integers(1, 12, 60)
    needs = [rng.permutation(make(bags, rng)) for bags in sizes]
    x = np.concatenate([rng.uniform(0, 35, len(one)) + 1000 * place for place, one in enumerate(needs)])
    groups = share_mixes(_cores(np.concatenate(needs), x, rng.uniform(0, 35, len(x))), 50).groups
    assert groups[["shared", "bound"]].iloc[0].tolist() == [sizes.sum(), sizes.sum()]


def _fewest_of_all_partitions(thousandths, x, y, reach):
    """Try every way to put core after core into a new cluster or into one of which it reaches every core."""
    best = [sum(-(-need // 1000) for need in thousandths)]

    def put(core, clusters):
        if core == len(x):
            bags = sum(-(-sum(thousandths[one] for one in cluster) // 1000) for cluster in clusters)
            best[0] = min(best[0], bags)
            return
        for cluster in clusters:
            if all((x[core] - x[one]) ** 2 + (y[core] - y[one]) ** 2 <= reach**2 for one in cluster):
                cluster.append(core)
                put(core + 1, clusters)
                cluster.pop()
        clusters.append([core])
        put(core + 1, clusters)
        clusters.pop()

    put(0, [])
    return best[0]


_CORE = st.tuples(st.integers(1, 1999), st.integers(0, 200), st.integers(0, 60))


@settings(max_examples=150, deadline=None)
@given(cores=st.lists(_CORE, min_size=1, max_size=8), is_line=st.booleans())
def test_up_to_eight_cores_take_the_fewest_bags_of_all_partitions(cores, is_line):
    needs, x, y = (list(one) for one in zip(*cores))
    y = [0] * len(y) if is_line else y
    groups = share_mixes(_cores(np.array(needs) / 1000, x, y), 50).groups
    fewest = _fewest_of_all_partitions(needs, x, y, 50)
    assert groups[["shared", "bound"]].iloc[0].tolist() == [fewest, fewest]


def _problem(cores):
    needs, x, y = (np.array(one) for one in zip(*cores))
    need = needs % 1000 * (ONE_BAG // 1000)
    group = np.zeros(len(x), dtype=np.int64)
    return need, x.astype(float), y.astype(float), pairs_within(x, y, group, 50)


def _near(count, pairs):
    return [int(one) for one in reach_bits(1, count, np.zeros(len(pairs), dtype=np.int64), *pairs.T)[0]]


@settings(max_examples=60, deadline=None)
@given(cores=st.lists(_CORE, min_size=2, max_size=8))
def test_each_solver_and_each_bound_agrees_with_all_partitions(cores):
    need, x, y, pairs = _problem(cores)
    # a full bag leaves nothing to share and never reaches a solver
    assume((need > 0).all())
    fewest = _fewest_of_all_partitions([int(one) // (ONE_BAG // 1000) for one in need], x, y, 50)
    near = _near(len(x), pairs)
    few = split_few(need[None], np.array([near]))[0]
    programmed, least = split_by_programme(need, near)
    component = connected(len(x), pairs)
    merged = merge_and_improve(x, y, need, component, pairs)
    assert bags_by(few, need).sum() == fewest
    assert (bags_by(programmed, need).sum(), least) == (fewest, fewest)
    assert price_bound(need, component, pairs).sum() <= fewest <= bags_by(merged, need).sum()
