"""How likely a core is to lie in each of several areas, against the normal distribution function."""

import numpy as np
import pytest
import shapely
from scipy.stats import norm

from pipeline.locate.chances import area_chances, names_around, near_edges


def _arrays(*numbers):
    return (np.array(list(column), dtype=float) for column in zip(*numbers))


def _chances(cores, boxes):
    """Cores as x, y, sigma; boxes as name, west, south, east, north."""
    polygons = np.array([shapely.box(*box) for _, *box in boxes])
    return area_chances(*_arrays(*cores), polygons, np.array([name for name, *_ in boxes], dtype=object))


def _rows(found):
    return [(core, name, round(chance, 4)) for core, name, chance in found.table.to_numpy()]


_HALVES = [("west", -900, -900, 0, 900), ("east", 0, -900, 900, 900)]


def test_across_an_edge_the_chance_is_the_normal_distribution_function():
    """2 m east of the edge with an error of 4 m: Phi(1/2) = 0.6915 east."""
    assert norm.cdf(0.5) == pytest.approx(0.6915, abs=5e-5)
    found = _chances([(2, 0, 4)], _HALVES)
    assert _rows(found) == [(0, "east", 0.6915), (0, "west", 0.3085)]
    assert found.edge_m.tolist() == [2]


def test_far_from_every_edge_a_core_is_inside_or_not():
    # 4 sigmas from the edge, and a metre less
    found = _chances([(16, 0, 4), (15, 0, 4)], _HALVES)
    assert _rows(found)[0] == (0, "east", 1.0)
    assert np.isnan(found.edge_m[0])
    assert found.edge_m[1] == 15
    assert found.table.loc[found.table["core"].eq(1), "chance"].sum() == pytest.approx(1)


def test_polygons_of_one_name_add_up():
    quarters = [("a", -900, -900, 0, 900), ("b", 0, 0, 900, 900), ("a", 0, -900, 900, 0)]
    found = _chances([(0, 0, 4)], quarters)
    assert _rows(found) == [(0, "a", 0.75), (0, "b", 0.25)]


def test_outside_every_polygon_a_part_of_the_chance_is_missing():
    found = _chances([(0, 0, 4)], [("east", 0, -900, 900, 900)])
    assert _rows(found) == [(0, "east", 0.5)]


def test_where_polygons_overlap_the_chances_add_up_to_no_more_than_one():
    found = _chances([(0, 0, 1)], [("a", -900, -900, 900, 900), ("b", -900, -900, 900, 900)])
    assert _rows(found) == [(0, "a", 0.5), (0, "b", 0.5)]


def test_a_core_without_a_position_is_in_no_area_and_has_no_edge():
    found = _chances([(np.nan, 0, 4), (2, np.nan, 4), (2, 0, 4)], _HALVES)
    assert set(found.table["core"]) == {2}
    assert np.isnan(found.edge_m).tolist() == [True, True, False]


def test_names_around_a_core_are_those_its_error_may_reach():
    # reach 4 sigmas: the core at x = 3 reaches the edge at 0, the one at x = 5 does not
    polygons = np.array([shapely.box(*box) for _, *box in _HALVES])
    around = names_around(*_arrays((3, 0, 1), (5, 0, 1)), polygons, np.array(["west", "east"], dtype=object))
    assert sorted(around.to_numpy().tolist()) == [[0, "east"], [0, "west"], [1, "east"]]


def test_near_an_edge_are_the_cores_whose_error_reaches_one():
    """The edges of a ring with a hole; the middle of the hole is far from all of them."""
    ring = shapely.box(0, 0, 100, 100).difference(shapely.box(40, 40, 60, 60))
    x, y, sigma = _arrays((2, 50, 1), (20, 50, 1), (38, 50, 1), (50, 50, 1), (np.nan, 50, 1), (50, 50, 3))
    assert near_edges(x, y, sigma, np.array([ring])).tolist() == [0, 2, 5]
