"""The need of one core, worked by hand."""

from math import pi

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.programme.catalogue import load_catalogue
from pipeline.quantify import (
    annulus_l,
    bags_for,
    bed_l,
    believable_sizes,
    core_kg,
    gravel_kg,
    hole_mm,
    pilot_hole_l,
    quantify,
)
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


def test_no_need_is_guessed_where_surface_or_size_is_unknown():
    surfaces = pd.Series(["unknown", "block paving", "asphalt", "asphalt", "concrete"], dtype="str")
    specified = specify(pd.DataFrame({"surface": surfaces}), _CATALOGUE)
    needs = quantify(
        specified, pd.Series([450, 450, np.nan, 450, 450.0]), pd.Series([200, 200, 200, np.nan, 200.0]), _CATALOGUE
    )
    assert needs.notna().all(axis="columns").tolist() == [False, False, False, False, True]
    assert needs.isna().all(axis="columns").tolist() == [True, True, True, True, False]


def _sizes(diameter, depth, diameter_is="hole", least=300.0, most=900.0, thin=75.0, step=None):
    steps = {"diameter_step_mm": [step], "depth_step_mm": [step]}
    cores = pd.DataFrame({"diameter_mm": [diameter], "depth_mm": [depth], **steps}, dtype=float)
    found = believable_sizes(cores, (least, most), (50.0, 700.0), thin, diameter_is, 9.0)
    return found.iloc[0]


@pytest.mark.parametrize(
    ("diameter", "hole"), [(299.9, None), (300.0, 300.0), (900.0, 900.0), (900.1, None), (float("nan"), None)]
)
def test_a_diameter_is_believed_within_its_limits_ends_included(diameter, hole):
    found = _sizes(diameter, 200)["hole_mm"]
    assert (None if pd.isna(found) else found) == hole


@pytest.mark.parametrize(("depth", "believed"), [(49.9, False), (50.0, True), (700.0, True), (700.1, False)])
def test_a_depth_is_believed_within_its_limits_ends_included(depth, believed):
    assert pd.notna(_sizes(450, depth)["depth_believed_mm"]) == believed


@pytest.mark.parametrize(("depth", "thin"), [(74.9, True), (75.0, False), (float("nan"), False), (10.0, False)])
def test_a_pavement_is_thin_below_the_limit_if_its_depth_is_believed(depth, thin):
    assert bool(_sizes(450, depth)["is_thin"]) == thin


@pytest.mark.parametrize(
    ("depth", "step", "believed", "thin"),
    [
        # 3 in to the nearest half inch may be 82.55 mm, and 50 mm to the nearest 50 mm 75 mm
        (76.2, 12.7, True, False),
        (50.0, 50.0, True, False),
        (74.0, 1.0, True, True),
        (75.0, 1.0, True, False),
        # of 40 mm to the nearest 25 mm, some depths that would be written so are plausible
        (40.0, 25.0, True, True),
        (40.0, 10.0, False, False),
        (710.0, 20.0, True, False),
        (711.0, 20.0, False, False),
    ],
)
def test_a_size_is_implausible_or_thin_where_every_size_written_so_is(depth, step, believed, thin):
    """Plausible from 50 to 700 mm, thin below 75 mm; believed_sizes and the rules say the same."""
    found = _sizes(450, depth, step=step)
    assert (pd.notna(found["depth_believed_mm"]), bool(found["is_thin"])) == (believed, thin)


def test_the_limits_of_a_core_are_those_of_what_was_measured():
    # the core is measured: 890 mm are within the limits, though the hole is 908 mm
    assert _sizes(890, 200, "core")["hole_mm"] == pytest.approx(908)


def test_limits_may_differ_from_core_to_core():
    cores = pd.DataFrame({"diameter_mm": [450.0, 450.0], "depth_mm": [200.0, 200.0]}).assign(
        diameter_step_mm=1.0, depth_step_mm=1.0
    )
    plausible = (pd.Series([300.0, 500.0]), pd.Series([900.0, 900.0]))
    found = believable_sizes(cores, plausible, (0.0, 999.0), 0.0, "hole", 9.0)
    assert found["hole_mm"].notna().tolist() == [True, False]


@settings(max_examples=40, deadline=None)
@given(st.floats(100, 900), st.floats(50, 700), st.floats(1.01, 3))
def test_a_wider_or_a_deeper_core_needs_more(hole, depth, factor):
    specified = pd.DataFrame({"shade": ["dark"] * 3, "bedding": ["pea gravel"] * 3})
    needs = quantify(
        specified, pd.Series([hole, hole * factor, hole]), pd.Series([depth, depth, depth * factor]), _CATALOGUE
    )
    assert needs["bags"].iloc[1] > needs["bags"].iloc[0]
    assert needs["bags"].iloc[2] > needs["bags"].iloc[0]
    # the gravel lies under the core: deeper is not more of it
    assert needs["gravel_kg"].iloc[2] == needs["gravel_kg"].iloc[0]
    assert needs["gravel_kg"].iloc[1] == pytest.approx(factor**2 * needs["gravel_kg"].iloc[0])


def test_an_infinite_size_makes_no_need():
    specified = pd.DataFrame({"shade": ["dark"], "bedding": ["pea gravel"]})
    assert quantify(specified, pd.Series([np.inf]), pd.Series([200.0]), _CATALOGUE)["bags"].isna().all()


def _weight(hole, depth, surface):
    (found,) = core_kg(pd.Series([hole]), pd.Series([depth]), pd.Series([surface], dtype="str"), _CATALOGUE)
    return found


def test_a_core_is_narrower_than_its_hole_by_two_kerfs():
    # 475.2 - 2 x 9 = 457.2 mm: pi/4 x 457.2^2 x 304.8 mm3 = 50.040 L, x 2.4 kg/L = 120.10 kg
    assert _weight(475.2, 304.8, "concrete") == pytest.approx(120.10, abs=0.01)
    # the hole is 18 in, so the core is 439.2 mm wide: 46.177 L, x 2.35 kg/L = 108.52 kg
    assert _weight(457.2, 304.8, "asphalt") == pytest.approx(108.52, abs=0.01)


@pytest.mark.parametrize(
    ("hole", "depth", "surface"),
    [(np.nan, 200, "asphalt"), (450, np.nan, "asphalt"), (450, 200, "unknown"), (np.inf, 200, "asphalt")],
)
def test_no_weight_is_guessed_where_size_or_surface_is_unknown(hole, depth, surface):
    assert pd.isna(_weight(float(hole), float(depth), surface))


@pytest.mark.parametrize("name", [name for name, surface in _CATALOGUE.surfaces.items() if surface.reinstate])
def test_every_surface_that_takes_a_core_has_a_density(name):
    assert _weight(450.0, 200.0, name) > 0
