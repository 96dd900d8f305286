"""Waste and void: the same grout, so the same records."""

import numpy as np
import pytest

from pipeline.calibrate import calibrate
from pipeline.calibrate.waste import with_waste_mm
from pipeline.programme.catalogue import load_catalogue
from tests.calibrate.made_records import records, void_l


@pytest.mark.parametrize("depth", [100, 300, 450])
def test_kerf_and_bed_with_waste_take_the_grout_that_kerf_and_bed_without_it_take(depth):
    kerf, bed = with_waste_mm(9.0, 12.7, 0.1, 457.2, 38.1, 9.0, 0)
    assert 1.1 * void_l(457.2, depth, kerf, bed) == pytest.approx(void_l(457.2, depth))
    assert kerf < 9.0
    assert bed == pytest.approx(12.7 / 1.1)


@pytest.mark.parametrize("depth", [100, 300, 450])
def test_so_they_do_where_the_core_was_measured_and_the_hole_follows_the_kerf(depth):
    # a core of 439.2 mm, so a hole of 457.2 mm with a kerf of 9 mm
    kerf, bed = with_waste_mm(9.0, 12.7, 0.1, 457.2, 38.1, 9.0, 2)
    assert 1.1 * void_l(439.2 + 2 * kerf, depth, kerf, bed) == pytest.approx(void_l(457.2, depth))


def test_without_waste_nothing_changes():
    assert with_waste_mm(8.0, 11.0, 0.0, 457.2, 38.1, 9.0, 0) == (pytest.approx(8.0), pytest.approx(11.0))


def test_only_the_lower_ends_allow_for_waste():
    cores = records(60)
    allowed, none = (
        calibrate(cores, load_catalogue({"materials": {"grout": {"most_waste": most}}}, "test"))
        for most in ("10 %", "0 %")
    )
    for name in ("kerf", "bed"):
        one, other = getattr(allowed, name), getattr(none, name)
        assert (one.mm, one.high_mm) == (other.mm, other.high_mm)
        assert one.low_mm < other.low_mm
    assert allowed.covariance == none.covariance
    # by the ring alone, a kerf a tenth smaller; the pilot hole stays, so a little more
    assert allowed.kerf.low_mm == pytest.approx(none.kerf.low_mm / 1.1, rel=0.02)


def test_a_waste_of_6_percent_is_within_the_intervals_and_was_not_without_an_allowance():
    cores = records(200, kerf=8.0, noise=0.02)
    spread = np.random.default_rng(6).exponential(0.06, 200)
    more = cores.assign(bags_used=cores["bags_used"] * (1 + spread), grout_used_l=cores["grout_used_l"] * (1 + spread))
    found = calibrate(more, load_catalogue({}, "test"))
    assert found.kerf.low_mm <= 8.0 <= found.kerf.high_mm
    assert found.bed.low_mm <= 12.7 <= found.bed.high_mm
    assert (
        found.void_l(more["hole_mm"], more["depth_mm"])["grout_net_l"].mean()
        > 1.04 * void_l(457.2, more["depth_mm"], 8.0).mean()
    )
