"""The mixture that explains cores best, on cores whose mixture is known."""

import numpy as np
import pytest

from pipeline.locate.learning import fit as fitting
from pipeline.locate.learning.fit import START, Batch, Mixture, fit, name_factor, position_likelihood, score
from pipeline.locate.learning.masses import STRIPS, WIDTHS_M, Masses
from tests.locate.learning.grid_town import batch_of, draw, streets


def test_a_name_is_right_or_one_of_those_nearby():
    """90 % right, else one of 5 names: 0.9 + 0.1 / 5 where it agrees, 0.1 / 5 where not, 1 where there is none."""
    factor = name_factor(np.array([1.0, 0.0, 0.5, np.nan]), 0.9, 5)
    assert factor.tolist() == pytest.approx([0.92, 0.02, 0.47, 1.0])


def test_the_likelihood_of_a_position_is_the_weighted_sum_of_its_masses():
    known = np.zeros((1, len(WIDTHS_M), len(STRIPS)), dtype=np.float32)
    known[0, 2, 0], known[0, 4, 1] = 0.5, 0.25
    widths = np.zeros(len(WIDTHS_M) + 1)
    widths[[2, 4, -1]] = 0.6, 0.3, 0.1
    strips = np.zeros(len(STRIPS))
    strips[:2] = 0.75, 0.25
    likelihood = position_likelihood(Masses(known, np.array([0.02])), Mixture(widths, strips, 0.9))
    # 0.5 * 0.6 * 0.75 + 0.25 * 0.3 * 0.25 + 0.1 * 0.02
    assert likelihood == pytest.approx([0.225 + 0.01875 + 0.002])


def test_the_score_of_a_core_adds_up_its_candidates():
    """Two cores, the first with two candidates; all are lost, so that the masses are 0.02, 0.04 and 0.03."""
    known = np.zeros((3, len(WIDTHS_M), len(STRIPS)), dtype=np.float32)
    lost_only = START._replace(widths=np.append(np.zeros(len(WIDTHS_M)), 1.0), name_right=0.9)
    masses = Masses(known, np.array([0.02, 0.04, 0.03]))
    batch = Batch(np.array([0, 0, 1]), masses, np.array([1.0, 0.0, np.nan]), np.array([1.0, 0.5, 1.0]), 5)
    expected = np.log([0.02 * 0.92 + 0.04 * 0.5 * 0.02, 0.03])
    assert score(batch, lost_only) == pytest.approx(expected)
    assert score(batch.of(np.array([False, True])), lost_only) == pytest.approx(expected[1:])


def test_pairs_that_differ_in_their_masses_alone_are_summed_and_nothing_else_changes():
    """Three of the first core's lines have another name and one has its own; the second core has no name."""
    known = np.random.default_rng(3).uniform(0, 0.1, (6, len(WIDTHS_M), len(STRIPS))).astype(np.float32)
    masses, nan = Masses(known, np.linspace(0.01, 0.06, 6)), np.nan
    match, level = np.array([0.0, 1.0, 0.0, 0.0, nan, nan]), np.array([1.0, 1.0, 1.0, 0.5, 1.0, 1.0])
    batch = Batch(np.array([0, 0, 0, 0, 1, 1]), masses, match, level, 5)
    summed = batch.summed()
    assert summed.core.tolist() == [0, 0, 0, 1]
    # 0.01 + 0.03 at the level of the second, 0.04 below ground, and 0.05 + 0.06
    assert sorted(summed.masses.lost) == pytest.approx([0.02, 0.04, 0.04, 0.11])
    assert score(summed, START) == pytest.approx(score(batch, START), rel=1e-6)


@pytest.mark.parametrize(("sigma", "seed"), [(0.3, 1), (2.0, 2), (6.0, 3)])
def test_what_is_fitted_to_the_sums_is_the_same_but_for_the_rounding_of_single_precision(sigma, seed):
    _, _, batch = batch_of(draw(streets(), 300, sigma, seed, names_right=0.7), streets())
    own, sums = fit(batch), fit(batch.summed())
    assert len(batch.summed().core) < len(batch.core)
    assert score(batch, sums).mean() == pytest.approx(score(batch, own).mean(), abs=1e-5)


def _objective(batch, mixture, towards, weight):
    """Log likelihood, and the shares' pull: what each round must not lower."""
    pull = 0.0
    for own, theirs in ((mixture.widths, towards.widths), (mixture.strips, towards.strips)):
        some = theirs > 0
        pull += weight * float((theirs[some] * np.log(own[some])).sum())
    names = max(weight, 20.0)
    right = towards.name_right
    pull += names * (right * np.log(mixture.name_right) + (1 - right) * np.log(1 - mixture.name_right))
    return float(score(batch, mixture).sum()) + pull


@pytest.mark.parametrize(("sigma", "weight"), [(0.3, 5.0), (2.0, 50.0), (6.0, 5.0)])
def test_no_round_makes_the_explanation_worse(monkeypatch, sigma, weight):
    _, _, batch = batch_of(draw(streets(), 150, sigma, 1, names_right=0.7), streets())
    objectives = [_objective(batch, START, START, weight)]
    for rounds in (1, 2, 3, 5, 8, 20, 60):
        monkeypatch.setattr(fitting, "_ROUNDS", rounds)
        objectives.append(_objective(batch, fit(batch, START, weight), START, weight))
    # shares are kept in single precision: a millionth per core
    assert np.all(np.diff(objectives) > -1e-6 * batch.size)
    assert objectives[-1] > objectives[0] + 10


def test_shares_and_right_names_are_found_again():
    """A third of the cores to 0.2 m, the others to 3.5 m; 80 % of the names as they should be.

    A wrong name is drawn from all 24 streets, so that 0.8 + 0.2 / 24 agree; the mixture draws it from 5.
    Standard errors of shares of 3,000 cores are at most 0.009; widths next to each other share what neither is told apart from. On roads 1 m wide the place
    across the road is hardly taken for an error.
    """
    rng = np.random.default_rng(2)
    sigma = np.where(rng.uniform(size=3000) < 1 / 3, 0.2, 3.5)
    _, _, batch = batch_of(draw(streets(), 3000, sigma, 3, names_right=0.8, half=0.5), streets(), 0.5)
    mixture = fit(batch)
    narrow = mixture.widths[:-1][WIDTHS_M < 1.0].sum()
    assert narrow == pytest.approx(1 / 3, abs=0.06)
    variance = (mixture.widths[:-1] * WIDTHS_M**2).sum() / mixture.widths[:-1].sum()
    assert np.sqrt(variance) == pytest.approx(np.sqrt(0.2**2 / 3 + 3.5**2 * 2 / 3), rel=0.1)
    assert mixture.name_right == pytest.approx((0.8 + 0.2 / 24 - 1 / 5) / (1 - 1 / 5), abs=0.03)
    assert mixture.widths.sum() == pytest.approx(1)
    assert mixture.strips.sum() == pytest.approx(1)


def test_the_place_across_the_road_is_found_again():
    """All cores by the northern kerb of one street, which is drawn to the east, to 0.2 m."""
    street = streets(("east",))[:1]
    _, _, batch = batch_of(draw(street, 600, 0.2, 4, across=(0, 1)), street)
    strips = dict(zip(STRIPS, fit(batch).strips))
    assert strips["left"] > 0.8
    assert strips["right"] < 0.02


def test_without_cores_the_start_stays():
    nothing = Masses(np.zeros((0, len(WIDTHS_M), len(STRIPS)), dtype=np.float32), np.zeros(0))
    batch = Batch(np.zeros(0, dtype=int), nothing, np.zeros(0), np.zeros(0), 5)
    assert fit(batch, START) is START


def test_a_core_beyond_every_error_does_not_end_the_fit():
    """The second core has no mass at all; the first decides as if it were alone."""
    known = np.zeros((2, len(WIDTHS_M), len(STRIPS)), dtype=np.float32)
    known[0, 3, 0] = 0.1
    two = Batch(np.array([0, 1]), Masses(known, np.array([0.001, 0.0])), np.full(2, np.nan), np.ones(2), 5)
    one = two.of(np.array([True, False]))
    assert fit(two, START).widths == pytest.approx(fit(one, START).widths, abs=1e-6)


def test_a_strong_pull_keeps_the_shares():
    _, _, batch = batch_of(draw(streets(), 100, 0.2, 5), streets())
    assert fit(batch, START, 1e9).widths == pytest.approx(START.widths, abs=1e-5)
