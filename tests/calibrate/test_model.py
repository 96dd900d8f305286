"""The calibrated volume model."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pandas as pd
import pytest

from pipeline.calibrate import calibrate, needs_before_and_after
from pipeline.calibrate.model import Calibration, Estimate, bag_l, bed_mm
from tests.calibrate.made_records import BAG_L, CATALOGUE, records, void_l

_18_IN, _12_IN = pd.Series([457.2]), pd.Series([304.8])
_BEDDED = pd.DataFrame({"bedding": ["pea gravel"]})


def test_the_covariance_and_the_intervals_tell_the_same():
    found = calibrate(records(), CATALOGUE)
    for place, one in enumerate((found.kerf, found.bed)):
        # the lower ends also allow for waste
        assert one.high_mm - one.mm == pytest.approx(1.96 * sqrt(found.covariance[place][place]), rel=0.1)
    # more of one is less of the other
    assert found.covariance[0][1] < 0


def test_where_the_core_was_measured_the_hole_follows_the_fitted_kerf():
    # cores of 439.2 mm cut with a kerf of 6 mm, so holes of 451.2 mm; the stated 9 mm makes them 457.2 mm
    cores = records(200, kerf=6, hole=451.2, noise=0.01, step=0.01).assign(hole_mm=439.2 + 18)
    found = calibrate(cores, CATALOGUE, "core")
    assert found.kerf.mm == pytest.approx(6, abs=0.1)
    assert found.bed.mm == pytest.approx(12.7, abs=0.2)
    void = found.void_l(_18_IN, _12_IN)
    assert void["grout_net_l"][0] == pytest.approx(void_l(451.2, 304.8, 6), abs=0.02)
    # the slope in k, with the hole widening by two, by differences
    step = 1e-4

    def moved(kerf, bed):
        return void_l(439.2 + 2 * kerf, 304.8, kerf, bed)

    middle = moved(found.kerf.mm, found.bed.mm)
    slopes = np.array(
        [
            (moved(found.kerf.mm + step, found.bed.mm) - middle) / step,
            (moved(found.kerf.mm, found.bed.mm + step) - middle) / step,
        ]
    )
    assert void["se_l"][0] == pytest.approx(sqrt(slopes @ np.array(found.covariance) @ slopes), rel=1e-3)


def test_the_needs_before_are_those_of_the_catalogue():
    needs = needs_before_and_after(calibrate(records(), CATALOGUE))
    assert needs["depth_in"].tolist() == [6, 8.5, 12, 17]
    by_hand = [1.2 * void_l(457.2, 25.4 * depth) / BAG_L for depth in (6, 8.5, 12, 17)]
    assert needs["bags_stated"].tolist() == pytest.approx(by_hand)
    assert needs["bags_calibrated"].tolist() == pytest.approx(by_hand, rel=0.03)
    assert (needs["bags_low"] < needs["bags_calibrated"]).all()
    assert (needs["bags_calibrated"] < needs["bags_high"]).all()


def _calibration(**changed):
    """A calibration of 9 mm and 12.7 mm whose errors are independent: 0.3 mm and 1 mm."""
    found = Calibration(
        Estimate(9.0, 8.4, 9.6, 9.0, 5.0, 10.0), Estimate(12.7, 10.7, 14.7, 12.7, 6.0, 29.0),
        ((0.09, 0.0), (0.0, 1.0)), 0.05, pd.DataFrame({"is_outlier": [False, True, True]}), pd.DataFrame(), 0.1,
        pd.DataFrame(), pd.DataFrame(), BAG_L, 38.1, 0.2, 0, 0.1, 0.0, (),
    )  # fmt: skip
    return replace(found, **changed)


def test_the_void_of_the_calibrated_model_and_its_error_by_hand():
    void = _calibration().void_l(_18_IN, _12_IN)
    assert void["grout_net_l"][0] == pytest.approx(void_l(457.2, 304.8))
    # slopes: pi (D - 2 k) d = 420,552 mm2 and pi/4 D^2 = 164,173 mm2; 0.3 and 1 mm of error
    by_kerf, by_bed = pi * (457.2 - 18) * 304.8 / 1e6, pi / 4 * 457.2**2 / 1e6
    assert void["se_l"][0] == pytest.approx(sqrt((0.3 * by_kerf) ** 2 + by_bed**2))


def test_errors_that_offset_each_other_make_the_void_more_certain():
    apart, opposed = (
        _calibration(covariance=((0.09, both), (both, 1.0))).void_l(_18_IN, _12_IN) for both in (0, -0.29)
    )
    assert opposed["se_l"][0] < 0.7 * apart["se_l"][0]
    assert opposed["grout_net_l"][0] == apart["grout_net_l"][0]


def test_lines_hold_the_stated_and_the_fitted_litres_with_overfill():
    found = _calibration(kerf=Estimate(8.0, 7.5, 8.5, 9.0, 5.0, 10.0))
    line = found.lines_l(_18_IN, _12_IN).iloc[0]
    assert line["stated"] == pytest.approx(1.2 * void_l(457.2, 304.8))
    assert line["fitted"] == pytest.approx(1.2 * void_l(457.2, 304.8, kerf=8.0))
    assert line["fitted"] - line["low"] == pytest.approx(line["high"] - line["fitted"])
    error = found.void_l(_18_IN, _12_IN)["se_l"][0]
    assert line["high"] - line["low"] == pytest.approx(2 * 1.959964 * 1.2 * error)


def test_outliers_are_counted_and_reasons_make_a_calibration_insufficient():
    assert _calibration().outliers == 2
    assert _calibration().enough
    assert not _calibration(reasons=("Too few.",)).enough


@pytest.mark.parametrize(
    ("mm", "plausible"), [(4.99, False), (5.0, True), (10.0, True), (10.01, False), (float("nan"), False)]
)
def test_an_estimate_is_plausible_within_its_range_ends_included(mm, plausible):
    assert Estimate(mm, 0, 0, 9.0, 5.0, 10.0).is_plausible == plausible


def test_a_bag_yields_its_mix_over_the_wet_density():
    # 20 kg and 2 L of water at 2.15 kg/L
    assert bag_l(CATALOGUE.materials.grout) == pytest.approx(22 / 2.15)


def test_the_bed_is_the_gap_and_the_filled_voids_of_its_gravel():
    specified = pd.DataFrame({"bedding": pd.Series(["pea gravel", None], dtype="str")})
    # 40 % of 25 mm, half of it filled, beside 12 mm
    found = bed_mm(specified, CATALOGUE, 12.0, 0.5)
    assert found[0] == pytest.approx(12 + 0.5 * 0.4 * 25)
    assert pd.isna(found[1])
