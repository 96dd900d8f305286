"""Whose error is learnt, and what that changes, on registers whose errors are known."""

import numpy as np
import pytest

from pipeline.locate.learning.learn import LEAST_REGISTER
from pipeline.locate.learning.masses import WIDTHS_M
from tests.locate.learning.grid_town import DEFAULT_M, draw, learn, pairs_of, question_of, streets

_LINES = streets()


def _outcome(cores, **more):
    (outcome,) = learn(question_of(cores, _LINES, **more)).outcomes
    return outcome


@pytest.mark.parametrize("seed", range(3))
def test_where_the_default_is_true_it_stays(seed):
    cores = draw(_LINES, 300, DEFAULT_M, seed)
    asked = question_of(cores, _LINES)
    learnt = learn(asked)
    assert [(one.is_accepted, one.reason) for one in learnt.outcomes] == [(False, "no better")]
    assert np.array_equal(learnt.position, asked.by_default)
    assert np.all(learnt.name_right == asked.name_right)
    assert not learnt.is_learnt.any()
    assert learnt.widths.sum() == 0


@pytest.mark.parametrize("sigma", [0.2, 3.5])
def test_where_the_default_is_wrong_the_error_is_learnt(sigma):
    cores = draw(_LINES, 400, sigma, 4)
    learnt = learn(question_of(cores, _LINES))
    (outcome,) = learnt.outcomes
    assert (outcome.register, outcome.cores, outcome.reason) == ("register", 400, "learnt")
    assert outcome.gain.mean > 2 * outcome.gain.error > 0
    assert learnt.is_learnt.all()
    assert learnt.widths.sum(axis=1) == pytest.approx(np.ones(400))


def test_few_cores_keep_the_default():
    cores = draw(_LINES, LEAST_REGISTER - 1, 0.2, 5)
    assert _outcome(cores).reason == "few"
    assert _outcome(draw(_LINES, LEAST_REGISTER, 0.2, 5)).reason != "few"


def test_stated_accuracies_are_untouched():
    """Every third core has a stated accuracy: it neither teaches nor learns."""
    cores = draw(_LINES, 600, 0.2, 6)
    may_learn = np.arange(600) % 3 > 0
    asked = question_of(cores, _LINES, may_learn=may_learn)
    learnt = learn(asked)
    assert np.array_equal(learnt.is_learnt, may_learn)
    stated = ~may_learn[asked.core]
    assert np.array_equal(learnt.position[stated], asked.by_default[stated])
    assert np.all(learnt.name_right[stated] == asked.name_right)
    (outcome,) = learnt.outcomes
    assert outcome.cores == 400
    only = learn(question_of(cores.part(may_learn), _LINES))
    assert np.array_equal(only.position, learnt.position[~stated])


def test_a_register_does_not_change_what_another_one_learns():
    own, other = draw(_LINES, 300, 0.2, 7), draw(_LINES, 300, 5.0, 8)
    both = type(own)(*(np.concatenate([getattr(own, name), getattr(other, name)]) for name in vars(own)))
    together = learn(question_of(both, _LINES, register=["a"] * 300 + ["b"] * 300))
    alone = learn(question_of(own, _LINES))
    first = np.arange(len(alone.position))
    assert np.array_equal(together.position[first], alone.position)
    assert [one.register for one in together.outcomes] == ["a", "b"]
    assert together.outcomes[0].mixture.widths.tolist() == alone.outcomes[0].mixture.widths.tolist()


def test_the_order_of_the_cores_changes_nothing():
    cores = draw(_LINES, 400, 0.5, 9, shift=(2.0, 1.0))
    turned = np.random.default_rng(10).permutation(400)
    straight = learn(question_of(cores, _LINES))
    mixed = learn(question_of(cores.part(turned), _LINES))
    assert mixed.outcomes[0].reading.says == straight.outcomes[0].reading.says
    core = pairs_of(cores.part(turned), _LINES).core
    # sums in another order differ by rounding, in single precision
    found = np.bincount(core, mixed.position)[np.argsort(turned)]
    assert found == pytest.approx(np.bincount(pairs_of(cores, _LINES).core, straight.position), rel=1e-3)


def test_two_crews_are_told_apart_by_their_errors():
    """Crew A to 0.2 m, crew B to 4 m along an axis: B's errors are learnt wider, and each core gets its own crew's."""
    crew = np.where(np.arange(800) % 2 == 0, "A", "B")
    cores = draw(_LINES, 800, np.where(crew == "A", 0.2, 4.0), 11)
    learnt = learn(question_of(cores, _LINES, crew=crew))
    (outcome,) = learnt.outcomes
    assert outcome.key == "crew"
    assert sorted(outcome.batches) == ["A", "B"]
    variance = learnt.widths[:, :-1] @ WIDTHS_M**2
    # what a wide road hides of the error stays as the register has it
    assert np.sqrt(variance[crew == "B"].mean()) > 1.5 * np.sqrt(variance[crew == "A"].mean())


@pytest.mark.parametrize("seed", [12, 13])
def test_crews_alike_are_not_told_apart(seed):
    crew = np.where(np.arange(800) % 2 == 0, "A", "B")
    outcome = _outcome(draw(_LINES, 800, 5.0, seed), crew=crew)
    assert (outcome.key, outcome.batches) == ("", {})
