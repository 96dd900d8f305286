"""The fewest bags of a few cores, by hand, and of some more by an integer programme."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.order.mixes.clusters import ONE_BAG, bags_by
from pipeline.order.mixes.fewest import MOST_ENUMERATED, _maximal_sets, reach_bits, split_by_programme, split_few

_TENTH = ONE_BAG // 10


def _tenths(*needs):
    return np.array(needs, dtype=np.int64) * _TENTH


def _near(count, *pairs):
    first, second = np.array(pairs, dtype=np.int64).reshape(-1, 2).T
    return reach_bits(1, count, np.zeros(len(first), dtype=np.int64), first, second)


def _all(count):
    return _near(count, *((one, other) for one in range(count) for other in range(one + 1, count)))


def test_the_bits_of_a_core_are_the_others_within_its_reach():
    # problem 1: 0 and 2
    bits = reach_bits(2, 3, np.array([1]), np.array([0]), np.array([2]))
    assert bits.tolist() == [[0, 0, 0], [0b100, 0, 0b001]]


def test_two_pairs_that_fill_two_bags_are_found_among_all_ways():
    split = split_few(_tenths(7, 4, 3, 6)[None], _all(4))[0]
    assert bags_by(split, _tenths(7, 4, 3, 6)).sum() == 2


def test_in_a_row_the_best_fit_in_the_middle_is_not_taken():
    # 0.5 0.4 0.6 0.4, each within reach of its neighbours: 0.9 + 1.0
    need, near = _tenths(5, 4, 6, 4), _near(4, (0, 1), (1, 2), (2, 3))
    assert split_few(need[None], near)[0].tolist() == [0, 0, 2, 2]


def test_out_of_reach_nothing_is_shared():
    assert split_few(_tenths(1, 1, 1)[None], _near(3)).tolist() == [[0, 1, 2]]


def test_without_gathering_the_way_that_shares_least_is_taken():
    need, near = _tenths(9, 8), _all(2)
    assert split_few(need[None], near).tolist() == [[0, 1]]
    assert split_few(need[None], near, gather=True).tolist() == [[0, 0]]


def test_many_problems_are_solved_at_once_as_each_alone():
    rng = np.random.default_rng(2)
    need = rng.integers(1, ONE_BAG, (5000, 4))
    near = rng.integers(0, 2, (5000, 6))
    first, second = np.triu_indices(4, 1)
    bits = np.concatenate([_near(4, *zip(first[row > 0], second[row > 0])) for row in near[:40]])
    together = split_few(np.tile(need[:40], (60, 1)), np.tile(bits, (60, 1)))
    assert (together[:40] == together[-40:]).all()
    for number in range(40):
        assert split_few(need[number : number + 1], bits[number : number + 1])[0].tolist() == together[number].tolist()


def test_no_problem_is_no_answer():
    assert split_few(np.empty((0, 3), dtype=np.int64), np.empty((0, 3), dtype=np.int64)).shape == (0, 3)


def test_a_single_core_is_its_own_cluster():
    assert split_few(_tenths(3)[None], _near(1)).tolist() == [[0]]
    assert split_by_programme(_tenths(3), [0])[1] == 1


@pytest.mark.parametrize(
    ("near", "sets"),
    [
        ([0], [0b1]),
        ([0b10, 0b01], [0b11]),
        # a row of three: two pairs
        ([0b010, 0b101, 0b010], [0b011, 0b110]),
        # a triangle with a tail
        ([0b0110, 0b0101, 0b1011, 0b0100], [0b0111, 0b1100]),
        ([0, 0, 0], [0b001, 0b010, 0b100]),
    ],
)
def test_maximal_sets_are_those_that_no_core_can_join(near, sets):
    assert _maximal_sets(near) == sets


def test_too_many_maximal_sets_are_given_up():
    """Cores in 20 opposite pairs: each set takes one of each pair, 2 to the 20th in all."""
    count = 40
    near = [((1 << count) - 1) & ~(1 << core) & ~(1 << (core ^ 1)) for core in range(count)]
    assert split_by_programme(np.full(count, _TENTH), near) == (None, 0)


def test_the_programme_proves_a_row_of_halves():
    # 21 halves in a row, neighbours within reach: ten pairs and one alone
    count = 21
    near = [(1 << core - 1 if core else 0) | (1 << core + 1 if core < count - 1 else 0) for core in range(count)]
    cluster, bound = split_by_programme(np.full(count, 5 * _TENTH), near)
    assert bound == 11
    assert bags_by(cluster, np.full(count, 5 * _TENTH)).sum() == 11


@settings(max_examples=25, deadline=None)
@given(st.integers(2, MOST_ENUMERATED - 2), st.integers(0, 9999), st.floats(0, 1))
def test_enumeration_and_programme_take_equally_few_bags(count, seed, share):
    rng = np.random.default_rng(seed)
    first, second = np.triu_indices(count, 1)
    chosen = rng.random(len(first)) < share
    near = _near(count, *zip(first[chosen], second[chosen]))
    need = rng.integers(1, ONE_BAG, count)
    few = bags_by(split_few(need[None], near)[0], need).sum()
    cluster, bound = split_by_programme(need, [int(bits) for bits in near[0]])
    assert bags_by(cluster, need).sum() == few == bound
