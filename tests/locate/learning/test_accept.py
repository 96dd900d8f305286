"""When a learnt error is better, by hand values."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.locate.learning.accept import FOLDS, Gain, folds_of, gain_of, held_out


@given(st.lists(st.integers(0, 30), min_size=1, max_size=200))
def test_a_street_is_in_one_fold_only(streets):
    _, street = np.unique(streets, return_inverse=True)
    fold = folds_of(street)
    assert all(len(set(fold[street == one])) == 1 for one in set(street))
    # the emptiest fold takes the next street, so two differ by no more than the largest street
    count = np.bincount(fold, minlength=FOLDS)
    assert count.max() - count.min() <= np.bincount(street).max()


def test_the_error_of_a_gain_counts_streets_and_not_cores():
    """Two streets of two cores, gaining 1 and 3: mean 2, deviations of the streets -2 and 2, error sqrt(2 * 8) / 4."""
    gain = gain_of(np.array([1.0, 1.0, 3.0, 3.0]), np.array([0, 0, 1, 1]))
    assert gain == pytest.approx((2.0, 1.0))


@pytest.mark.parametrize(("gain", "is_sure"), [((2.0, 1.0), False), ((2.001, 1.0), True), ((-3.0, 1.0), False)])
def test_a_gain_is_sure_above_two_standard_errors(gain, is_sure):
    assert Gain(*gain).is_sure is is_sure


def test_one_street_shows_nothing():
    assert not gain_of(np.array([5.0, 5.0]), np.array([0, 0])).is_sure
    assert not gain_of(np.zeros(0), np.zeros(0, dtype=int)).is_sure


def test_no_core_is_scored_by_what_was_learnt_from_its_own_street():
    """Four streets in four folds; what is learnt is the sum of the cores' values, and scores are that sum."""
    value = np.array([1.0, 10.0, 100.0, 1000.0, 7.0])
    fold, cores = np.array([0, 1, 2, 3, 0]), np.array([True, True, True, True, False])

    def learn_and_score(number, learn_from, to_score):
        assert not (fold[learn_from] == number).any()
        return np.full(to_score.sum(), value[learn_from].sum())

    # 1111 in all, without one's own
    assert held_out(cores, fold, learn_and_score).tolist() == [1110, 1101, 1011, 111]
