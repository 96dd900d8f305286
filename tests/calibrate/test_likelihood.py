"""The likelihood of kerf and bed: worked by hand where that can be done, and the laws of the fit."""

from dataclasses import replace
from math import log, pi

import numpy as np
import pytest
from scipy.stats import norm

from pipeline.calibrate.likelihood import Records, _chances, _log_likelihood, central, distinct_records, fit_records
from tests.calibrate.made_records import void_l


def _records(depth, litres, width=0.5, hole=457.2, widens=0):
    """Records of one diameter, each as wide as ``width`` litres about ``litres``."""
    depth, litres = np.asarray(depth, dtype=float), np.asarray(litres, dtype=float)
    once = np.ones(len(depth))
    return Records(hole * once, depth, litres - width / 2, litres + width / 2, once, 38.1, 0.2, 9.0, widens)


def _made(count=60, kerf=9.0, bed=12.7, noise=0.03, seed=3, width=0.2):
    depth = np.linspace(100, 430, count)
    scatter = 1 + noise * np.random.default_rng(seed).standard_normal(count)
    return _records(depth, 1.2 * void_l(457.2, depth, kerf, bed) * scatter, width)


def test_the_litres_of_a_record_are_those_of_ring_pilot_hole_and_bed_with_overfill():
    records = _records([304.8], [7.0])
    assert records.wet_l(9.0, 12.7)[0] == pytest.approx(1.2 * void_l(457.2, 304.8))
    # many kerfs at once: the records are the last axis
    assert records.wet_l([5.0, 9.0, 10.0], [12.7, 12.7, 12.7]).shape == (3, 1)


def test_the_hole_of_a_measured_core_widens_by_two_kerfs():
    # a core of 439.2 mm, recorded as a hole of 457.2 mm by the stated 9 mm; with 6 mm the hole is 451.2 mm
    records = _records([304.8], [7.0], widens=2)
    assert records.wet_l(9.0, 12.7)[0] == pytest.approx(1.2 * void_l(457.2, 304.8))
    assert records.wet_l(6.0, 12.7)[0] == pytest.approx(1.2 * void_l(451.2, 304.8, kerf=6.0))


def test_the_likelihood_of_a_record_is_the_area_under_a_bell_over_its_interval():
    records = _records([304.8], [8.0], width=1.0)
    wet = records.wet_l(9.0, 12.7)[0]
    correct, mistaken = _chances(records, np.array([9.0]), np.array([12.7]), 0.1, 0.05)
    bell = norm(wet, 0.1 * wet)
    assert correct[0, 0] == pytest.approx(0.95 * (bell.cdf(8.5) - bell.cdf(7.5)))
    # a mistake may be anything up to the largest record: 1 L of 8.5 L
    assert mistaken[0, 0] == pytest.approx(0.05 / 8.5)
    total = _log_likelihood(records, np.array([9.0]), np.array([12.7]), np.array([0.1]), 0.05)
    assert total[0, 0] == pytest.approx(log(correct[0, 0] + mistaken[0, 0]))


def test_a_record_that_occurs_three_times_counts_three_times():
    thrice = _records([200, 200, 200, 300], [6, 6, 6, 8])
    grouped = distinct_records(thrice)
    assert grouped.weight.tolist() == [3, 1]
    assert grouped.depth_mm.tolist() == [200, 300]
    node = (np.array([8.0]), np.array([14.0]), np.array([0.1]), 0.05)
    assert _log_likelihood(grouped, *node).item() == pytest.approx(_log_likelihood(thrice, *node).item())


def test_of_very_many_different_records_an_even_choice_is_fitted():
    depth = np.linspace(100, 400, 5000)
    grouped = distinct_records(_records(depth, 1.2 * void_l(457.2, depth)))
    assert len(grouped.weight) == 2000
    assert (grouped.depth_mm.min(), grouped.depth_mm.max()) == (100, 400)
    assert np.diff(grouped.depth_mm).max() < 3 * 300 / 2000


def test_the_central_interval_leaves_equal_shares_out_on_both_sides():
    values = np.linspace(0, 1, 10_001)
    low, high = central(values, np.full(len(values), 1 / len(values)))
    assert (low, high) == pytest.approx((0.025, 0.975), abs=1e-4)
    # the order of the nodes does not matter, nor how often a value occurs among them
    twice = np.concatenate([values[::-1], values])
    assert central(twice, np.full(len(twice), 0.5 / len(values))) == pytest.approx((low, high))


@pytest.mark.parametrize(("kerf", "bed"), [(6.0, 10.0), (9.0, 12.7), (11.0, 25.0)])
def test_the_values_that_records_were_made_with_are_found(kerf, bed):
    fit = fit_records(_made(200, kerf, bed))
    assert fit.kerf_mm[0] == pytest.approx(kerf, abs=0.35)
    assert fit.bed_mm[0] == pytest.approx(bed, abs=0.9)
    assert fit.kerf_mm[1] < fit.kerf_mm[0] < fit.kerf_mm[2]
    assert fit.bed_mm[1] < fit.bed_mm[0] < fit.bed_mm[2]
    assert fit.scatter == pytest.approx(0.03, abs=0.01)


def test_a_doubled_record_is_found_out_and_moves_nothing():
    sound = _made(60)
    low, high = sound.from_l.copy(), sound.to_l.copy()
    low[30], high[30] = 2 * low[30], 2 * low[30] + 0.2
    fit, spoiled = fit_records(sound), fit_records(replace(sound, from_l=low, to_l=high))
    assert spoiled.mistaken[30] > 0.99
    assert np.delete(spoiled.mistaken, 30).max() < 0.5
    assert spoiled.kerf_mm[0] == pytest.approx(fit.kerf_mm[0], abs=0.1)


def test_more_records_give_a_narrower_interval():
    few, many = (fit_records(_made(count)) for count in (40, 160))
    width = [fit.kerf_mm[2] - fit.kerf_mm[1] for fit in (few, many)]
    # four times as many: about half as wide
    assert width[1] == pytest.approx(width[0] / 2, rel=0.25)


def test_the_order_of_the_records_does_not_matter():
    records = _made(50)
    turned = replace(
        records, **{name: getattr(records, name)[::-1] for name in ("hole_mm", "depth_mm", "from_l", "to_l")}
    )
    fit, other = fit_records(records), fit_records(turned)
    assert other.kerf_mm == fit.kerf_mm
    assert other.mistaken[::-1].tolist() == fit.mistaken.tolist()


def test_records_of_one_depth_leave_a_trade_between_kerf_and_bed():
    """At one depth, a millimetre less of kerf is made up for by so much more bed: their errors are opposed."""
    fit = fit_records(_records(np.full(60, 300.0), 1.2 * void_l(457.2, 300.0) * np.linspace(0.95, 1.05, 60)))
    (kk, kb), (_, bb) = fit.covariance
    assert kb / np.sqrt(kk * bb) < -0.95
    # pi (D - 2 k) d over pi/4 D^2, by the slopes of the void at 9 mm
    trade = pi * (457.2 - 18) * 300 / (pi / 4 * 457.2**2)
    assert kb / kk == pytest.approx(-trade, rel=0.05)


@pytest.mark.parametrize("width", [0.2, 2.5])
def test_the_grid_agrees_with_a_dense_one_over_everything(width):
    records = _made(40, width=width)
    fit = fit_records(records)
    # the same share of mistakes, which is taken from the likeliest values
    kerf, bed, scatter = np.linspace(5, 13, 65), np.linspace(0, 30, 91), np.geomspace(0.02, 0.2, 15)
    kerfs, beds = (one.ravel() for one in np.meshgrid(kerf, bed, indexing="ij"))
    heights = np.stack(
        [np.log(np.add(*_chances(records, kerfs, beds, float(one), fit.mistakes))).sum(axis=1) for one in scatter]
    )
    weight = np.exp(heights - heights.max()).sum(axis=0).reshape(65, 91)
    for axis, values, found in ((1, kerf, fit.kerf_mm), (0, bed, fit.bed_mm)):
        share = weight.sum(axis=axis) / weight.sum()
        middle = share @ values
        error = np.sqrt(share @ (values - middle) ** 2)
        assert found[0] == pytest.approx(middle, abs=0.1 * error)
        ends = np.interp([0.025, 0.975], share.cumsum() - share / 2, values)
        assert found[1:] == pytest.approx(ends, abs=0.25 * error)


def test_records_of_ten_times_what_any_bed_explains_are_fitted_by_the_thickest():
    depth = np.linspace(100, 430, 60)
    fit = fit_records(_records(depth, 12 * void_l(457.2, depth, 9.0, 12.7), 1.0))
    assert fit.bed_mm[0] > 100
    assert fit.bed_mm[1] <= fit.bed_mm[2] <= 150
