"""The fit of kerf and bed to records of use."""

from math import pi

import numpy as np
import pandas as pd
import pytest

from pipeline.calibrate import calibrate, grout_used_l
from pipeline.programme.catalogue import load_catalogue
from tests.calibrate.made_records import BAG_L, CATALOGUE, records, void_l

_18_IN, _12_IN = pd.Series([457.2]), pd.Series([304.8])
_BEDDED = pd.DataFrame({"bedding": ["pea gravel"]})


def test_only_records_that_can_be_used_are_used():
    cores = records(80)
    spoiled = cores.copy()
    for place, (column, value) in enumerate(
        [
            ("hole_mm", np.nan),
            ("depth_mm", np.nan),
            ("bedding", None),
            ("bags_used", np.nan),
            ("bags_used", 0.0),
            ("bags_used", -1.0),
            ("is_usable", False),
        ]
    ):
        spoiled.loc[place, column] = value
    spoiled["grout_used_l"] = grout_used_l(
        spoiled["bags_used"], pd.Series(np.nan, spoiled.index), CATALOGUE.materials.grout
    )
    found, without = calibrate(spoiled, CATALOGUE), calibrate(cores.iloc[7:], CATALOGUE)
    assert found.records.index.tolist() == list(range(7, 80))
    assert found.kerf == without.kerf


def test_the_order_of_the_rows_does_not_matter():
    cores = records(50)
    turned = calibrate(cores.iloc[::-1], CATALOGUE)
    found = calibrate(cores, CATALOGUE)
    assert turned.kerf == found.kerf
    assert turned.records.sort_index().equals(found.records)


def test_holes_of_all_diameters_are_fitted_together():
    # neither 18 in holes of one depth nor 24 in holes of one depth tell kerf from bed; together they do not lie
    both = pd.concat([records(60), records(60, hole=609.6)], ignore_index=True)
    found = calibrate(both, CATALOGUE)
    assert found.kerf.mm == pytest.approx(9, abs=0.4)
    assert found.bed.mm == pytest.approx(12.7, abs=0.8)
    assert found.by_diameter["inch"].tolist() == [18, 24]
    assert found.by_diameter["records"].tolist() == [60, 60]


def test_rounding_up_and_to_the_nearest_differ_by_half_a_step_of_bed():
    cores = records(200, step=0.25)
    up, nearest = calibrate(cores, CATALOGUE, rounded="up"), calibrate(cores, CATALOGUE, rounded="nearest")
    # half a step, an eighth of a bag without its overfill, over the hole
    assert nearest.bed.mm - up.bed.mm == pytest.approx(0.125 * BAG_L / 1.2 / (pi / 4 * 0.4572**2), abs=1.5)
    assert (up.crews["habit"].item(), up.crews["known_from"].item()) == ("up", "stated")
    assert (up.records["to_l"] - up.records["grout_used_l"]).abs().max() == pytest.approx(0)
    assert (nearest.records["to_l"] - nearest.records["grout_used_l"]).max() == pytest.approx(0.125 * BAG_L)


@pytest.mark.parametrize(
    ("bags", "step"),
    [
        ([1, 2, 1, 3] * 10, 1),
        ([0.5, 1, 1.5, 1] * 10, 0.5),
        ([0.5, 0.75, 1, 1.25] * 10, 0.25),
        ([0.6, 0.8, 1.0, 1.2] * 10, 0.2),
        ([0.5, 0.7, 0.9, 1.0] * 10, 0.1),
        ([0.55, 0.7, 0.95, 1.0] * 10, 0.05),
        ([0.53, 0.71, 0.94, 1.0] * 10, 0.01),
        # one in ten may be out of step, more may not
        ([0.5, 1, 1.5, 1, 0.5, 1, 1.5, 1, 1, 0.7] * 4, 0.5),
        ([0.5, 1, 1.5, 1, 0.5, 1, 1.5, 1, 0.7, 0.7] * 4, 0.1),
    ],
)
def test_the_step_is_the_largest_that_nine_in_ten_records_are_multiples_of(bags, step):
    cores = pd.DataFrame({"hole_mm": 457.2, "depth_mm": np.linspace(100, 400, len(bags)), "bags_used": bags})
    cores = cores.assign(bedding="pea gravel", grout_used_l=cores["bags_used"] * BAG_L, crew="", is_usable=True)
    found = calibrate(cores, CATALOGUE)
    assert found.step_bags == step
    in_step = np.isclose(cores["bags_used"] / step, (cores["bags_used"] / step).round())
    width = found.records["to_l"] - found.records["from_l"]
    assert width.tolist() == pytest.approx(np.where(in_step, step, 0.01) * BAG_L)


def test_the_overfill_and_the_pilot_hole_are_taken_as_given():
    overrides = {"materials": {"grout": {"overfill": "0 %"}, "geometry": {"pilot_hole": "45 mm"}}}
    catalogue = load_catalogue(overrides, "test")
    found = calibrate(records(100), catalogue)
    # the same litres, all of them void: a fifth more, less what the wider pilot hole takes
    void = found.void_l(_18_IN, _12_IN)["grout_net_l"][0]
    assert void == pytest.approx(1.2 * void_l(457.2, 304.8), rel=0.02)
    assert (found.pilot_mm, found.overfill) == (45, 0)
