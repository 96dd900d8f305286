"""The error of a position over an area, as far as the reference tests leave anything open."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from pipeline.locate.position_error import FAR, NSSDA_95, mass_in, reach_of_rounding_m, rounding_weighed_m, sigma_of


def _mass(polygon, x=0.0, y=0.0, sigma=1.0):
    return mass_in(np.array([x]), np.array([y]), np.array([sigma]), np.array([polygon]))[0]


def test_the_circle_that_holds_95_percent_is_the_root_of_minus_two_log_five_percent():
    # the length of a round normal error is Rayleigh distributed: 1 - exp(-r^2 / 2) = 0.95
    assert pytest.approx(np.sqrt(-2 * np.log(0.05)), rel=1e-15) == NSSDA_95
    assert sigma_of(np.array([NSSDA_95, 5.0])).tolist() == pytest.approx([1, 5 / 2.447746830680816])


def test_far_is_where_one_error_in_2981_is_longer():
    assert 1 / np.exp(-(FAR**2) / 2) == pytest.approx(2980.96, abs=0.01)


@settings(deadline=None, max_examples=60)
@given(
    west=st.floats(-6, 6), south=st.floats(-6, 6), wide=st.floats(0.01, 12), high=st.floats(0.01, 12),
    sigma=st.floats(0.2, 5),
)  # fmt: skip
def test_a_box_is_the_product_of_two_strips(west, south, wide, high, sigma):
    east, north = west + wide, south + high
    expected = (norm.cdf(east / sigma) - norm.cdf(west / sigma)) * (norm.cdf(north / sigma) - norm.cdf(south / sigma))
    assert _mass(shapely.box(west, south, east, north), sigma=sigma) == pytest.approx(expected, abs=2e-8)


@settings(deadline=None, max_examples=30)
@given(cut=st.floats(-3, 3), x=st.floats(-3, 3), y=st.floats(-3, 3))
def test_the_parts_of_an_area_add_up_to_the_area(cut, x, y):
    left, right = shapely.box(-4, -3, cut, 5), shapely.box(cut, -3, 4, 5)
    both = _mass(shapely.box(-4, -3, 4, 5), x, y)
    assert _mass(left, x, y) + _mass(right, x, y) == pytest.approx(both, abs=1e-9)
    assert _mass(shapely.MultiPolygon([left, right]), x, y) == pytest.approx(both, abs=1e-9)


def test_scaling_everything_changes_nothing():
    box = shapely.box(-1, 2, 3, 7)
    tenfold = shapely.box(-10, 20, 30, 70)
    assert _mass(box, 1, 2, 2) == pytest.approx(_mass(tenfold, 10, 20, 20), rel=1e-12)


@pytest.mark.parametrize(
    ("x", "y", "share"), [(0, 0, 0.25), (0, 50, 0.5), (50, 50, 1.0), (-50, 50, 0.0), (0, -50, 0.0)]
)
def test_from_the_corner_the_edge_the_inside_and_afar(x, y, share):
    """A square of 100 m with its corner at the origin; the error is 1 m."""
    assert _mass(shapely.box(0, 0, 100, 100), x, y) == pytest.approx(share, abs=1e-9)


def test_each_core_has_its_own_polygon_and_its_own_error():
    squares = np.array([shapely.box(0, -99, 99, 99), shapely.box(0, -99, 99, 99), shapely.box(-99, -99, 99, 99)])
    found = mass_in(np.array([1.0, 1.0, 1.0]), np.zeros(3), np.array([1.0, 2.0, 2.0]), squares)
    assert found.tolist() == pytest.approx([norm.cdf(1), norm.cdf(0.5), 1])


def test_no_core_has_no_mass():
    nothing = np.array([], dtype=float)
    assert mass_in(nothing, nothing, nothing, np.array([], dtype=object)).tolist() == []


def test_rounded_digits_reach_half_the_diagonal_of_their_steps():
    # steps of 30 m and 40 m: a diagonal of 50 m; variance (900 + 1600) / 24 along each axis
    sigma = np.sqrt(np.array([2500 / 24, 0.0]))
    assert reach_of_rounding_m(sigma) == pytest.approx([25, 0])


def test_rounding_is_weighed_up_to_a_hundred_metres_and_nothing_written_adds_nothing():
    assert rounding_weighed_m(np.array([3.0, 2400.0, np.nan])).tolist() == [3, 100, 0]
