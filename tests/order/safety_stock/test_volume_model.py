"""The uncertain volume model: its terms make up the need of a core, and its draws keep to the ranges."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import triang

from pipeline.order.safety_stock.volume_model import (
    TERMS,
    Calibrated,
    bags_of_terms,
    draw_model,
    likeliest_model,
    terms_of,
)
from pipeline.programme.catalogue import load_catalogue
from pipeline.quantify import quantify

_CATALOGUE = load_catalogue({}, "test")
_MATERIALS = _CATALOGUE.materials
# 40 % of 25 mm of gravel
_HOLLOW_MM = 10.0


def _bags(hole_mm, depth_mm):
    """The need of a core by the other method: the stage that quantifies."""
    specified = pd.DataFrame({"shade": ["dark"], "bedding": ["pea gravel"]})
    return quantify(specified, pd.Series([hole_mm]), pd.Series([depth_mm]), _CATALOGUE)["bags"][0]


@settings(deadline=None)
@given(st.floats(100, 900), st.floats(50, 600))
def test_terms_times_the_likeliest_model_are_the_need_of_a_core(hole_mm, depth_mm):
    bags = bags_of_terms(likeliest_model(_MATERIALS), _MATERIALS, "hole")[0]
    terms = terms_of(np.array([hole_mm]), np.array([depth_mm]), np.array([_HOLLOW_MM]))
    assert (terms @ bags)[0] == pytest.approx(_bags(hole_mm, depth_mm), rel=1e-9)


@settings(deadline=None)
@given(st.floats(100, 900), st.floats(50, 600))
def test_a_measured_core_makes_a_hole_two_kerfs_wider(core_mm, depth_mm):
    bags = bags_of_terms(likeliest_model(_MATERIALS), _MATERIALS, "core")[0]
    terms = terms_of(np.array([core_mm]), np.array([depth_mm]), np.array([_HOLLOW_MM]))
    assert (terms @ bags)[0] == pytest.approx(_bags(core_mm + 2 * 9, depth_mm), rel=1e-9)


def test_terms_are_the_powers_that_the_void_is_a_sum_of():
    terms = terms_of(np.array([2.0]), np.array([3.0]), np.array([5.0]))
    # d, W d, W^2, W, 1, and the last three times b
    assert terms[0].tolist() == [3, 6, 4, 2, 1, 20, 10, 5]
    assert terms.shape[-1] == TERMS


def test_an_unknown_diameter_leaves_only_the_terms_without_it():
    terms = terms_of(np.array([np.nan]), np.array([3.0]), np.array([5.0]))[0]
    assert terms[~np.isnan(terms)].tolist() == [3, 1, 5]
    assert np.flatnonzero(np.isnan(terms)).tolist() == [1, 2, 3, 5, 6]


def test_a_bag_is_filled_by_its_litres():
    # a hole full of bed alone: pi/4 x 1000^2 mm2 x 1 mm of gap is 0.785 L, x 1.2 x 2.15 / 22 bags
    bags = bags_of_terms(likeliest_model(_MATERIALS), _MATERIALS, "hole")[0]
    gap_mm = 12.7
    assert bags[2] * 1000**2 / gap_mm == pytest.approx(np.pi / 4 * 1.2 * 2.15 / 22)


def test_draws_follow_the_triangle_between_the_ends_of_a_range():
    model = draw_model(_MATERIALS, 20_000, np.random.default_rng(1))
    # kerf 5 to 10 mm, most likely 9
    triangle = triang(0.8, 5, 5)
    for share in (0.1, 0.5, 0.9):
        assert np.quantile(model.kerf_mm, share) == pytest.approx(triangle.ppf(share), abs=0.05)
    assert model.kerf_mm.mean() == pytest.approx((5 + 9 + 10) / 3, abs=0.03)


def test_a_calibration_replaces_kerf_and_bed_and_leaves_nothing_else_uncertain():
    calibrated = Calibrated(8.0, 15.0, ((0.25, -0.2), (-0.2, 1.0)))
    model = draw_model(_MATERIALS, 20_000, np.random.default_rng(1), calibrated)
    assert (model.kerf_mm.mean(), model.kerf_mm.std()) == pytest.approx((8, 0.5), abs=0.02)
    assert (model.gap_mm.mean(), model.gap_mm.std()) == pytest.approx((15, 1.0), abs=0.04)
    assert np.corrcoef(model.kerf_mm, model.gap_mm)[0, 1] == pytest.approx(-0.4, abs=0.03)
    assert set(model.bed_fill.tolist()) == {0.0}
    for name in ("pilot_mm", "wet_density_kg_l", "overfill"):
        assert len(set(getattr(model, name).tolist())) == 1


def test_no_drawn_kerf_or_bed_is_negative():
    model = draw_model(_MATERIALS, 5000, np.random.default_rng(1), Calibrated(0.5, 0.5, ((1.0, 0.0), (0.0, 1.0))))
    assert model.kerf_mm.min() == 0
    assert model.gap_mm.min() == 0


def test_the_same_seed_draws_the_same_model():
    one, other = (draw_model(_MATERIALS, 50, np.random.default_rng(9)) for _ in range(2))
    assert one.kerf_mm.tolist() == other.kerf_mm.tolist()
    assert one.overfill.tolist() == other.overfill.tolist()
