"""Uneven use: what the scatter of records tells of waste, and what it cannot."""

from functools import cache
from math import exp

import numpy as np
import pytest
from scipy.stats import exponnorm

from pipeline.calibrate import calibrate
from pipeline.calibrate.likelihood import Records, fit_records
from pipeline.calibrate.uneven import _below, uneven_share
from tests.calibrate.made_records import BAG_L, CATALOGUE, records, void_l

_REGISTERS = 4


def _alike(share):
    return lambda _, count: np.full(count, share)


def _mostly_alike(rng, count):
    """Three percent at every core and three more on average, whose spread is a tenth of the scatter's variance."""
    return 0.03 + rng.gamma(4, 0.0075, count)


def _thrown_away(rng, count):
    return rng.exponential(0.1, count)


def _wider_holes(rng, count):
    """Nothing is thrown away, but one hole in seven takes up to 40 % more: 3 % on average over all."""
    return np.where(rng.random(count) < 0.15, rng.uniform(0, 0.4, count), 0.0)


def _made(more, seed, count=400):
    """Records in tenths of a bag of holes of 18 in, with a scatter of 5 %."""
    rng = np.random.default_rng([26, seed])
    depth = rng.uniform(100, 430, count)
    wet = 1.2 * void_l(457.2, depth) * (1 + more(rng, count)) * (1 + 0.05 * rng.standard_normal(count))
    bags = np.round(wet / BAG_L, 1)
    once = np.ones(count)
    return Records(457.2 * once, depth, (bags - 0.05) * BAG_L, (bags + 0.05) * BAG_L, once, 38.1, 0.2, 9.0, 0)


@cache
def _shares(more):
    made = [_made(more, seed) for seed in range(_REGISTERS)]
    return [uneven_share(one, fit_records(one)) for one in made]


@pytest.mark.parametrize("share", [0.01, 0.06, 0.3])
def test_the_sum_of_a_normal_and_an_exponential_share_is_as_in_a_second_library(share):
    beside = np.linspace(-0.3, 1.5, 40)
    assert _below(beside, 0.05, share) == pytest.approx(exponnorm(share / 0.05, scale=0.05).cdf(beside), abs=1e-9)


@pytest.mark.parametrize("share", [0.0, 0.06])
def test_waste_that_is_alike_at_every_core_leaves_no_trace(share):
    assert _shares(_alike(share)) == [0.0] * _REGISTERS


def test_waste_that_differs_little_from_core_to_core_leaves_none_either():
    assert _shares(_mostly_alike).count(0.0) >= _REGISTERS - 1


@pytest.mark.parametrize("more", [_thrown_away, _wider_holes])
def test_very_uneven_use_shows_whether_thrown_away_or_in_wider_holes(more):
    assert sum(share > 0.04 for share in _shares(more)) >= _REGISTERS - 1


def test_to_take_uneven_use_off_would_leave_wider_holes_short_of_grout():
    """All that they took is void, 3 % over all; as waste, more than twice as much would be taken off."""
    assert np.median([share for share in _shares(_wider_holes) if share]) > 2 * 0.15 * 0.2


def test_the_lower_ends_allow_for_uneven_use_beyond_the_most_waste_of_the_catalogue():
    rng = np.random.default_rng(4)
    cores, more = records(300, kerf=7.0), 1 + rng.exponential(0.18, 300)
    found = calibrate(
        cores.assign(bags_used=cores["bags_used"] * more, grout_used_l=cores["grout_used_l"] * more), CATALOGUE
    )
    assert found.uneven_share == pytest.approx(0.18, abs=0.04)
    assert found.most_waste == found.uneven_share > CATALOGUE.materials.grout.most_waste.value
    assert found.kerf.low_mm <= 7.0 <= found.kerf.high_mm
    assert found.bed.low_mm <= 12.7 <= found.bed.high_mm


def test_too_few_records_show_nothing():
    assert calibrate(records(5), CATALOGUE).uneven_share == 0.0


def test_no_share_at_all_is_the_normal_distribution():
    assert _below(np.array([0.05]), 0.05, 1e-4)[0] == pytest.approx(0.8413447)
    # and a share that all but fills the scatter the exponential one
    assert _below(np.array([0.5]), 1e-3, 0.25)[0] == pytest.approx(1 - exp(-2), abs=1e-3)
