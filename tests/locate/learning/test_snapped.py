"""Positions that were moved onto a road line, told from positions that lie near it."""

import numpy as np
import pytest

from pipeline.locate.learning.snapped import LEAST_SNAPPED, snapped_of


def _snapped(nearest, rounding=0.0, register=None):
    nearest = np.asarray(nearest, dtype=float)
    names = np.full(len(nearest), "north", dtype=object) if register is None else np.asarray(register, dtype=object)
    return snapped_of(nearest, np.full(len(nearest), rounding), names)


def _scattered(sigma, count=2000, seed=1):
    return np.abs(np.random.default_rng(seed).normal(0, sigma, count))


def test_positions_on_the_line_are_snapped_and_those_beside_it_are_not():
    snapped = _snapped(np.concatenate([np.zeros(LEAST_SNAPPED), np.linspace(1, 9, 50), [np.inf]]))
    assert snapped.tolist() == [True] * LEAST_SNAPPED + [False] * 51


def test_few_positions_on_the_line_may_lie_there_by_chance():
    assert not _snapped(np.zeros(LEAST_SNAPPED - 1)).any()


@pytest.mark.parametrize("sigma", [0.05, 0.1, 0.3, 2.0])
def test_a_main_in_the_middle_of_the_road_is_not_snapped_however_well_it_was_surveyed(sigma):
    assert not _snapped(_scattered(sigma)).any()


def test_rounded_digits_leave_a_snapped_position_beside_the_line():
    """Six decimals of a degree are 0.11 m: half the diagonal of such a step is 0.08 m."""
    rounded = np.random.default_rng(2).uniform(0, 0.08, 100)
    assert _snapped(rounded, 0.08).all()
    assert not _snapped(rounded, 0.0).all()


def test_where_digits_leave_more_open_than_a_line_nothing_is_called_snapped():
    assert not _snapped(np.zeros(100), 0.5).any()


def test_each_register_is_judged_by_itself():
    near = np.concatenate([np.zeros(100), _scattered(0.1, 400)])
    snapped = _snapped(near, register=["north"] * 100 + ["south"] * 400)
    assert snapped[:100].all()
    assert not snapped[100:].any()
