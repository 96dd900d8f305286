"""The mass of a position's error over an area, against closed forms and a second method.

Sources: the normal distribution function of SciPy (``scipy.stats.norm``); a Monte Carlo of ten million points; the
factor of a 95 % radius from FGDC-STD-007.3-1998 (NSSDA), Appendix 3-A: 2.4477, as quoted in public repositories.
"""

import numpy as np
import pytest
import shapely
from scipy import stats

from pipeline.locate.position_error import NSSDA_95, mass_in, sigma_of

_FAR = 10_000


def _mass(shape, x=0.0, y=0.0, sigma=2.0):
    return mass_in(np.array([x]), np.array([y]), np.array([sigma]), np.array([shape]))[0]


@pytest.mark.parametrize("distance", [-7.0, -2.0, -0.3, 0.0, 0.3, 1.0, 2.5, 7.0])
def test_a_straight_edge_gives_the_normal_distribution_function(distance):
    half_plane = shapely.box(-distance, -_FAR, _FAR, _FAR)
    assert _mass(half_plane) == pytest.approx(stats.norm.cdf(distance / 2), abs=1e-4)


def test_a_right_corner_gives_the_product():
    corner = shapely.box(-1.5, 0.7, _FAR, _FAR)
    assert _mass(corner) == pytest.approx(stats.norm.cdf(1.5 / 2) * stats.norm.cdf(-0.7 / 2), abs=1e-4)


def test_a_strip_gives_the_difference():
    strip = shapely.box(-_FAR, -1, _FAR, 5)
    expected = stats.norm.cdf(5 / 2) - stats.norm.cdf(-1 / 2)
    assert _mass(strip) == pytest.approx(expected, abs=1e-4)


def test_a_circle_gives_the_rayleigh_distribution():
    # a circle of a thousand sides, 95 % of the errors by NSSDA's factor
    circle = shapely.Point(0, 0).buffer(NSSDA_95 * 2, quad_segs=256)
    assert _mass(circle) == pytest.approx(0.95, abs=1e-3)


def test_a_hole_is_subtracted_and_the_direction_of_a_ring_does_not_matter():
    outer, inner = shapely.box(-9, -9, 9, 9), shapely.box(-1, -1, 1, 1)

    def square(half):
        return (stats.norm.cdf(half / 2) - stats.norm.cdf(-half / 2)) ** 2

    holed = shapely.difference(outer, inner)
    assert _mass(holed) == pytest.approx(square(9) - square(1), abs=1e-9)
    assert _mass(shapely.reverse(holed)) == pytest.approx(_mass(holed), abs=1e-12)
    two = shapely.MultiPolygon([shapely.box(-9, -9, 0, 9), shapely.box(0, -9, 9, 9)])
    assert _mass(two) == pytest.approx(square(9), abs=1e-9)


def test_any_shape_agrees_with_ten_million_points():
    rng = np.random.default_rng(20261125)
    shape = shapely.Polygon([(-3, -2), (4, -1), (1.5, 0.5), (5, 4), (-1, 3), (-0.5, 0.8)])
    hits = 0
    for _ in range(10):
        x, y = rng.normal(0.4, 2, 1_000_000), rng.normal(-0.3, 2, 1_000_000)
        hits += shapely.contains_xy(shape, x, y).sum()
    assert _mass(shape, 0.4, -0.3) == pytest.approx(hits / 1e7, abs=1e-3)


def test_a_95_percent_radius_is_2_4477_standard_deviations():
    assert pytest.approx(2.4477, abs=5e-5) == NSSDA_95
    assert pytest.approx(np.sqrt(stats.chi2.ppf(0.95, 2))) == NSSDA_95
    # NSSDA: Acc95 = 1.7308 RMSEr, RMSEr being sigma times the square root of two
    assert sigma_of(np.array([1.7308]))[0] * np.sqrt(2) == pytest.approx(1, abs=1e-4)
