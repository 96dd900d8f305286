"""The need of one core, worked by hand."""

from math import pi

import numpy as np
import pandas as pd
import pytest

from pipeline.programme.catalogue import load_catalogue
from pipeline.quantify import annulus_l, bags_for, bed_l, gravel_kg, hole_mm, pilot_hole_l, quantify
from pipeline.specify import specify

_CATALOGUE = load_catalogue({}, "test")
_18_IN, _12_IN = pd.Series([457.2]), pd.Series([304.8])


def test_kerf_pilot_hole_and_bed_of_one_core_by_hand():
    # a ring from 457.2 down to 439.2 mm, 304.8 mm deep: pi/4 (457.2^2 - 439.2^2) x 304.8 = 3 862 595 mm3
    assert annulus_l(_18_IN, _12_IN, 9)[0] == pytest.approx(pi / 4 * (457.2**2 - 439.2**2) * 304.8 / 1e6)
    # pi/4 x 38.1^2 = 1140.09 mm2, x 304.8 mm = 347 500 mm3
    assert pilot_hole_l(_12_IN, 38.1)[0] == pytest.approx(0.34750, abs=1e-5)
    # pi/4 x 457.2^2 = 164 173 mm2, x 12.7 mm = 2 085 000 mm3; with 40 % of 25 mm half filled 5 mm more
    nothing, bed = pd.Series([0.4]), pd.Series([25.0])
    assert bed_l(_18_IN, 12.7, 0.0, nothing, bed)[0] == pytest.approx(2.08500, abs=1e-4)
    assert bed_l(_18_IN, 12.7, 0.5, nothing, bed)[0] == pytest.approx(164.173 * 17.7 / 1000, abs=1e-4)


def test_bags_water_and_gravel_by_hand():
    # 22 kg of mix at 2.15 kg/L are 10.2326 L a bag
    assert bags_for(pd.Series([10.232558]), _CATALOGUE.materials.grout)[0] == pytest.approx(1, abs=1e-6)
    # 164 173 mm2 x 25 mm = 4.1043 L, x 1.59 kg/L
    assert gravel_kg(_18_IN, pd.Series([25.0]), pd.Series([1.59]))[0] == pytest.approx(6.5259, abs=1e-4)


def test_a_core_diameter_makes_a_hole_wider_by_two_kerfs():
    assert hole_mm(_18_IN, "hole", 9)[0] == 457.2
    assert hole_mm(_18_IN, "core", 9)[0] == pytest.approx(475.2)


def test_the_needs_of_a_core_belong_together():
    specified = specify(pd.DataFrame({"surface": pd.Series(["asphalt"], dtype="str")}), _CATALOGUE)
    need = quantify(specified, _18_IN, _12_IN, _CATALOGUE).iloc[0]
    assert need["grout_l"] == pytest.approx(1.2 * need["grout_net_l"])
    assert need["grout_kg"] == pytest.approx(20 * need["bags"])
    assert need["water_l_needed"] == pytest.approx(2 * need["bags"])
    # powder and water weigh what the mix weighs
    assert need["grout_kg"] + need["water_l_needed"] == pytest.approx(2.15 * need["grout_l"])


def test_no_need_is_made_up_where_surface_or_size_is_not_known():
    surfaces = pd.Series(["unknown", "block paving", "asphalt", "asphalt", "concrete"], dtype="str")
    specified = specify(pd.DataFrame({"surface": surfaces}), _CATALOGUE)
    needs = quantify(
        specified, pd.Series([450, 450, np.nan, 450, 450.0]), pd.Series([200, 200, 200, np.nan, 200.0]), _CATALOGUE
    )
    assert needs.notna().all(axis="columns").tolist() == [False, False, False, False, True]
    assert needs.isna().all(axis="columns").tolist() == [True, True, True, True, False]


def test_bituminous_surfaces_take_dark_and_cement_ones_pale():
    names = ["asphalt", "composite", "concrete", "concrete footway", "block paving", "unbound", "unknown"]
    specified = specify(pd.DataFrame({"surface": pd.Series(names, dtype="str")}), _CATALOGUE)
    assert specified["shade"].fillna("").tolist() == ["dark", "dark", "pale", "pale", "", "", ""]
    assert specified["reinstatable"].tolist() == [True] * 4 + [False] * 3
