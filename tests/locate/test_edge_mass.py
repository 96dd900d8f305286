"""The mass over the edges within reach, against that over the polygon cut to the square about each error."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from pipeline.locate import edge_mass
from pipeline.locate.edge_mass import mass_by_edges
from pipeline.locate.position_error import mass_in


def _mass(polygon, x=0.0, y=0.0, sigma=1.0):
    x, y, sigma = (np.atleast_1d(np.asarray(number, dtype=float)) for number in (x, y, sigma))
    polygons = np.array([polygon])
    which = np.zeros(len(x), dtype=np.intp)
    return mass_by_edges(x, y, sigma, polygons, which, shapely.intersects(polygon, shapely.points(x, y)))


def _star(random, about=(0.0, 0.0)):
    """A polygon of up to ten corners around a point, some of them sharp."""
    turns = np.sort(random.uniform(0, 2 * np.pi, random.integers(4, 11)))
    far = random.uniform(0.5, 9, len(turns))
    return shapely.Polygon(np.column_stack([about[0] + far * np.cos(turns), about[1] + far * np.sin(turns)])).buffer(0)


def test_the_mass_is_that_of_the_polygon_cut_to_the_square():
    """Three hundred polygons, a third of them with a hole and a third in parts, each under six errors far from 0, 0."""
    random = np.random.default_rng(7)
    shapes = []
    for at in range(300):
        star = _star(random, (400_000.0, 5_000_000.0))
        if at % 3 == 1:
            star = star.difference(_star(random, (400_001.0, 5_000_000.0)))
        if at % 3 == 2:
            star = star.union(_star(random, (400_012.0, 5_000_004.0)))
        shapes.append(star)
    polygons, which = np.array(shapes), np.repeat(np.arange(300), 6)
    x, y = (about + random.uniform(-9, 9, len(which)) for about in (400_000.0, 5_000_000.0))
    sigma = random.uniform(0.2, 4, len(which))
    inside = shapely.intersects(polygons[which], shapely.points(x, y))
    found = mass_by_edges(x, y, sigma, polygons, which, inside)
    # at six sigmas rounding decides whether 1 in 1,000,000,000 is counted
    assert found == pytest.approx(mass_in(x, y, sigma, polygons[which]), abs=4e-9)


@settings(deadline=None, max_examples=100)
@given(
    west=st.floats(-6, 6), south=st.floats(-6, 6), wide=st.floats(0.01, 12), high=st.floats(0.01, 12),
    sigma=st.floats(0.2, 5),
)  # fmt: skip
def test_a_box_is_the_product_of_two_strips(west, south, wide, high, sigma):
    east, north = west + wide, south + high
    expected = (norm.cdf(east / sigma) - norm.cdf(west / sigma)) * (norm.cdf(north / sigma) - norm.cdf(south / sigma))
    assert _mass(shapely.box(west, south, east, north), sigma=sigma) == pytest.approx(expected, abs=2e-8)


@pytest.mark.parametrize(
    ("x", "y", "share"),
    [(0, 0, 0.25), (0, 50, 0.5), (1e-9, 50, 0.5), (50, 50, 1.0), (-50, 50, 0.0), (0, -50, 0.0), (50, -6, 0.0)],
)
def test_on_a_corner_an_edge_inside_and_afar(x, y, share):
    """A square of 100 m with its corner at the origin; the error is 1 m."""
    assert _mass(shapely.box(0, 0, 100, 100), x, y) == pytest.approx(share, abs=1e-9)


def test_a_polygon_that_covers_the_square_has_all_but_what_leaves_it():
    """By each of the four sides 1 in 1,000,000,000 leaves; by which of them it is counted, rounding decides."""
    assert 1 - _mass(shapely.box(-50, -50, 50, 50))[0] == pytest.approx(0, abs=4.1e-9)


def test_edges_are_looked_at_a_few_at_a_time(monkeypatch):
    random = np.random.default_rng(8)
    x, y, sigma = random.uniform(-9, 9, (3, 50))
    star = _star(random)
    at_once = _mass(star, x, y, np.abs(sigma) + 0.2)
    monkeypatch.setattr(edge_mass, "_CHUNK", 25)
    assert _mass(star, x, y, np.abs(sigma) + 0.2).tolist() == at_once.tolist()


def test_no_error_has_no_mass():
    nothing = np.array([], dtype=float)
    none = np.array([], dtype=np.intp)
    assert mass_by_edges(nothing, nothing, nothing, np.array([], dtype=object), none, none.astype(bool)).tolist() == []
