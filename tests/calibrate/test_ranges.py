"""Litres used, and the range of the void by the catalogue and by the calibration."""

from dataclasses import replace
from math import sqrt

import numpy as np
import pandas as pd
import pytest

from pipeline.calibrate import (
    calibrate,
    calibrated_range_l,
    grout_used_l,
    grout_used_range_l,
    judged_grout,
    void_range_l,
)
from pipeline.quantify import quantify
from tests.calibrate.made_records import BAG_L, CATALOGUE, records, void_l

_18_IN, _12_IN = pd.Series([457.2]), pd.Series([304.8])
_BEDDED = pd.DataFrame({"bedding": ["pea gravel"]})


@pytest.mark.parametrize(
    ("bags", "water", "litres"),
    [
        (1, 2.0, BAG_L),
        # litre for litre, more and less
        (1, 2.5, BAG_L + 0.5),
        (2, 3.5, 2 * BAG_L - 0.5),
        # half and double of the stated 2 L are the last that are believed
        (1, 1.0, BAG_L - 1),
        (1, 4.0, BAG_L + 2),
        (1, 0.99, BAG_L),
        (1, 4.01, BAG_L),
        (1, np.nan, BAG_L),
        (0, np.nan, 0),
    ],
)
def test_litres_used_are_those_of_the_bags_and_the_water_beyond_what_they_want(bags, water, litres):
    assert grout_used_l(pd.Series([float(bags)]), pd.Series([water]), CATALOGUE.materials.grout)[0] == pytest.approx(
        litres
    )


def test_no_bags_recorded_are_no_litres_known():
    assert grout_used_l(pd.Series([np.nan]), pd.Series([2.0]), CATALOGUE.materials.grout).isna()[0]


def test_the_stated_range_adds_the_swings_in_quadrature():
    # each side: kerf to 5 or 10 mm, pilot hole to 25 or 50 mm, gap to 6 or 19 mm, fill to 0 or all of 40 % of 25 mm
    middle = void_l(457.2, 304.8)
    below = [void_l(457.2, 304.8, **one) - middle for one in ({"kerf": 5}, {"pilot": 25}, {"bed": 6})]
    above = [
        void_l(457.2, 304.8, **one) - middle for one in ({"kerf": 10}, {"pilot": 50}, {"bed": 19}, {"bed": 12.7 + 10})
    ]
    found = void_range_l(_BEDDED, _18_IN, _12_IN, CATALOGUE)
    assert found["grout_least_l"][0] == pytest.approx(middle - sqrt(sum(one**2 for one in below)))
    assert found["grout_most_l"][0] == pytest.approx(middle + sqrt(sum(one**2 for one in above)))
    # 6.295 - sqrt(1.698^2 + 0.198^2 + 1.100^2), and + sqrt(0.420^2 + 0.251^2 + 1.034^2 + 1.642^2)
    assert found.loc[0].tolist() == pytest.approx([4.263, 8.296], abs=0.001)


def test_the_need_without_overfill_lies_in_the_stated_range():
    need = quantify(_BEDDED.assign(shade="dark"), _18_IN, _12_IN, CATALOGUE)
    found = void_range_l(_BEDDED, _18_IN, _12_IN, CATALOGUE)
    assert found["grout_least_l"][0] < need["grout_net_l"][0] < found["grout_most_l"][0]


def test_no_range_is_made_up_where_bed_or_size_is_not_known():
    specified = pd.DataFrame({"bedding": pd.Series([None, "pea gravel", "pea gravel"], dtype="str")})
    found = void_range_l(specified, pd.Series([457.2, np.nan, 457.2]), pd.Series([300, 300, np.nan]), CATALOGUE)
    assert found.isna().all(axis=None)
    calibration = calibrate(records(), CATALOGUE)
    assert calibration.enough
    sizes = pd.Series([457.2, np.nan, 457.2]), pd.Series([300, 300, np.nan])
    assert calibrated_range_l(calibration, specified, *sizes, CATALOGUE).isna().all(axis=None)


def test_the_calibrated_range_is_two_standard_errors_to_either_side_of_the_void_and_lower_for_waste_of_10_percent():
    found = calibrate(records(), CATALOGUE)
    assert found.enough, found.reasons
    # the slopes of V in k and in b, by differences
    step = 1e-4
    middle = void_l(457.2, 304.8, found.kerf.mm, found.bed.mm)
    by_kerf = (void_l(457.2, 304.8, found.kerf.mm + step, found.bed.mm) - middle) / step
    by_bed = (void_l(457.2, 304.8, found.kerf.mm, found.bed.mm + step) - middle) / step
    error = sqrt(np.array([by_kerf, by_bed]) @ np.array(found.covariance) @ np.array([by_kerf, by_bed]))
    ranges = calibrated_range_l(found, _BEDDED, _18_IN, _12_IN, CATALOGUE)
    assert ranges.loc[0].tolist() == pytest.approx([(middle - 1.96 * error) / 1.1, middle + 1.96 * error], rel=1e-4)
    stated = void_range_l(_BEDDED, _18_IN, _12_IN, CATALOGUE).loc[0]
    assert stated["grout_least_l"] < ranges.loc[0, "grout_least_l"] < 6.29 < ranges.loc[0, "grout_most_l"]
    assert ranges.loc[0, "grout_most_l"] < stated["grout_most_l"]


def test_the_calibrated_range_never_leaves_what_the_stated_ranges_allow_together():
    found = calibrate(records(), CATALOGUE)
    # a standard error of 30 mm of kerf and of bed
    unsure = replace(found, covariance=((900.0, 0.0), (0.0, 900.0)))
    ranges = calibrated_range_l(unsure, _BEDDED, _18_IN, _12_IN, CATALOGUE).loc[0].tolist()
    ends = [void_l(457.2, 304.8, 5, 6, 25), void_l(457.2, 304.8, 10, 19 + 10, 50)]
    assert ranges == pytest.approx(ends)


def test_the_stated_range_serves_where_the_records_are_not_enough():
    found = calibrate(records(29), CATALOGUE)
    assert not found.enough
    pd.testing.assert_frame_equal(
        calibrated_range_l(found, _BEDDED, _18_IN, _12_IN, CATALOGUE),
        void_range_l(_BEDDED, _18_IN, _12_IN, CATALOGUE),
    )


def test_the_grout_of_a_core_is_judged_by_the_calibration_only_if_that_is_sufficient():
    sizes = pd.DataFrame({"hole_mm": _18_IN, "depth_believed_mm": _12_IN, "is_thin": [False]})
    for count, source in ((60, "by this programme's own records"), (29, "by the stated ranges")):
        calibration = calibrate(records(count), CATALOGUE)
        judged = judged_grout(calibration, _BEDDED, sizes, pd.Series([6.0]), CATALOGUE)
        facts = judged.loc[0, ["hole_mm", "is_thin", "grout_used_l", "grout_judged_by"]]
        assert facts.tolist() == [457.2, False, 6.0, source]
        ranges = calibrated_range_l(calibration, _BEDDED, _18_IN, _12_IN, CATALOGUE)
        assert judged[["grout_least_l", "grout_most_l"]].equals(ranges)


def test_half_a_bag_and_a_tenth_of_a_litre_either_way_by_hand():
    """One bag of 22 / 2.15 = 10.2326 L to the nearest half, with 2 L to the nearest 0.1 L.

    At least 0.75 bags, 7.6744 L, with 1.95 - 1.5 L more water than they call for; at most 1.25 bags, 12.7907 L, with
    2.05 - 2.5 L less. Water that is missing, or a mistake, counts as what the bags call for.
    """
    cores = pd.DataFrame(
        {"bags_used": [1.0, 1.0, 1.0], "water_l": [2.0, np.nan, 9.0], "bags_used_step": 0.5, "water_step_l": 0.1}
    )
    found = grout_used_range_l(cores, CATALOGUE.materials.grout)
    assert found["grout_used_low_l"].tolist() == pytest.approx([8.1244, 7.6744, 7.6744], abs=1e-4)
    assert found["grout_used_high_l"].tolist() == pytest.approx([12.3407, 12.7907, 12.7907], abs=1e-4)
    exact = grout_used_range_l(cores.assign(bags_used_step=np.nan, water_step_l=np.nan), CATALOGUE.materials.grout)
    for end in ("grout_used_low_l", "grout_used_high_l"):
        assert (
            exact[end].tolist()
            == grout_used_l(cores["bags_used"], cores["water_l"], CATALOGUE.materials.grout).tolist()
        )
