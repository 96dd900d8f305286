"""Which cores of a register are learnt from: evenly spread ones, and enough of each batch."""

import numpy as np
import pandas as pd
import pytest

from pipeline.locate.learning import sample
from pipeline.locate.learning.sample import Subjects, learnt_from, sample_of

_ALL = np.ones(11, dtype=bool)


@pytest.fixture(autouse=True)
def small(monkeypatch):
    """Registers of a few cores are large."""
    for name, value in (("_MOST_OF_REGISTER", 4), ("_MOST_OF_BATCH", 2), ("LEAST_BATCH", 3)):
        monkeypatch.setattr(sample, name, value)


def test_of_a_large_register_the_first_the_last_and_evenly_spread_ones_are_taken():
    """Of 11 cores, those nearest to 0, 3 1/3, 6 2/3 and 10."""
    chosen, whole = sample_of(pd.DataFrame(index=range(11)), _ALL)
    assert np.flatnonzero(whole).tolist() == np.flatnonzero(chosen).tolist() == [0, 3, 7, 10]


def test_of_a_small_register_all_are_taken():
    mine = np.arange(11) < 4
    assert sample_of(pd.DataFrame(index=range(11)), mine)[0].tolist() == mine.tolist()


def test_each_batch_with_enough_cores_adds_some_of_its_own_the_first_named_too():
    crew = pd.Series([None, "A", "A", "A", None, "B", "B", None, "C", "C", "C"], dtype="str")
    chosen, whole = sample_of(pd.DataFrame({"crew": crew}), _ALL)
    # A lies at 1 to 3 and C at 8 to 10; B has two cores, too few, and those without a crew are no batch
    assert np.flatnonzero(chosen & ~whole).tolist() == [1, 8]
    assert (chosen & whole).tolist() == whole.tolist()


def test_a_batch_counts_within_its_register_alone():
    crew = pd.Series(["A"] * 11, dtype="str")
    mine = np.arange(11) < 2
    assert sample_of(pd.DataFrame({"crew": crew}), mine)[0].tolist() == mine.tolist()


def test_each_register_is_sampled_by_itself_and_only_where_it_is_learnt_from():
    register = np.array(["N"] * 6 + ["S"] * 5, dtype=object)
    subjects = Subjects(register, pd.DataFrame(index=range(11)), np.arange(11) != 5)
    assert np.flatnonzero(learnt_from(subjects)).tolist() == [0, 1, 3, 4, 6, 7, 9, 10]
