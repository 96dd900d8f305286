"""By what cores differ most surely: which groups are looked at, what each is compared with, and which key is taken."""

from typing import NamedTuple

import numpy as np
import pandas as pd
import pytest

from pipeline.locate.learning import apart
from pipeline.locate.learning.accept import FOLDS
from pipeline.locate.learning.apart import tell_apart

_COUNT = 40
_FOLD = np.arange(_COUNT) % FOLDS
_STREET = np.arange(_COUNT)


class _Cores(NamedTuple):
    """Stands for a batch: the numbers of its cores."""

    number: np.ndarray

    def of(self, cores):
        return _Cores(self.number[cores[self.number]])


_ALL = _Cores(np.arange(_COUNT))


@pytest.fixture(autouse=True)
def fitted(monkeypatch):
    """What is fitted is the mean number of the cores; a core scores by how near it is to that."""
    asked = []

    def fit(batch, _start, _pull):
        asked.append(set(batch.number.tolist()))
        return float(batch.number.mean())

    monkeypatch.setattr(apart, "fit", fit)
    monkeypatch.setattr(apart, "score", lambda batch, middle: -np.abs(batch.number - middle))
    monkeypatch.setattr(apart, "LEAST_BATCH", 10)
    return asked


def _keys(**names):
    return pd.DataFrame({key: pd.Series(each, dtype="str") for key, each in names.items()})


def _told(keys):
    return tell_apart(keys, _ALL, [None] * FOLDS, _FOLD, _STREET)


def test_cores_that_lie_in_two_heaps_are_told_apart_by_the_heap():
    found = _told(_keys(crew=["A"] * 20 + ["B"] * 20))
    assert found.key == "crew"
    assert {name: np.flatnonzero(which).tolist() for name, which in found.groups.items()} == {
        "A": [*range(20)],
        "B": [*range(20, 40)],
    }
    assert found.gained.sum() > 0


def test_each_fold_is_compared_with_what_the_others_tell(fitted):
    _told(_keys(crew=["A"] * 20 + ["B"] * 20))
    for number, cores in enumerate(fitted[:FOLDS]):
        assert cores == set(np.flatnonzero(number != _FOLD).tolist())


def test_one_crew_beside_cores_of_nobody_is_told_apart_from_them():
    found = _told(_keys(crew=["A"] * 20 + [None] * 20))
    assert (found.key, [*found.groups]) == ("crew", ["A"])


@pytest.mark.parametrize("names", [["A"] * 40, ["A"] * 9 + [None] * 31, [None] * 40])
def test_with_one_name_for_all_or_too_few_cores_of_any_nothing_is_fitted(fitted, names):
    found = _told(_keys(crew=names))
    assert (found.key, found.groups, found.gained.sum()) == ("", {}, 0)
    assert fitted == []


def test_of_keys_that_tell_the_same_groups_apart_the_first_is_taken():
    crew = ["A"] * 20 + ["B"] * 20
    assert _told(_keys(crew=crew, contractor=crew)).key == "crew"
    assert _told(_keys(contractor=crew, crew=crew)).key == "contractor"


def test_names_that_say_nothing_of_where_cores_lie_are_no_reason():
    assert _told(_keys(crew=["A", "B"] * 20)).key == ""
