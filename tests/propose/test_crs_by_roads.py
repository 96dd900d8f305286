"""The CRS of positions by where the roads are.

The roads are a street of bends around a town's middle; cores lie on it, and are written in one CRS after the other.
"""

import numpy as np
import pyproj
import pytest
import shapely

from pipeline.propose.crs_by_roads import Roads, crs_that_fit


def _street(lon, lat, crs=4326):
    """A street of 40 bends, some 2 km long, and a core on each of them: roads in a CRS, longitudes, latitudes."""
    rng = np.random.default_rng(7)
    lons, lats = lon + np.cumsum(rng.uniform(2e-4, 9e-4, 40)), lat + np.cumsum(rng.uniform(-4e-4, 6e-4, 40))
    x, y = pyproj.Transformer.from_crs(4326, crs, always_xy=True).transform(lons, lats)
    return Roads(np.array([shapely.LineString(np.column_stack([x, y]))]), pyproj.CRS.from_epsg(crs)), lons, lats


def _written(lons, lats, code):
    return pyproj.Transformer.from_crs(4326, code, always_xy=True).transform(lons, lats)


@pytest.mark.parametrize(
    ("lon", "lat", "code"),
    [
        (-82.2, 44.8, 4326),
        (-82.2, 44.8, 32617),
        (-82.2, 44.8, 32167),  # US survey feet
        (-95.4, 29.8, 2278),  # a state plane in US survey feet
        (-122.7, 45.5, 2269),  # a state plane in international feet
        (-1.5, 52.4, 27700),  # a national grid on a datum of its own
        (2.3, 48.8, 2154),
        (7.4, 46.9, 2056),
    ],
)
def test_positions_are_in_the_crs_that_puts_them_on_the_roads(lon, lat, code):
    roads, lons, lats = _street(lon, lat)
    x, y = _written(lons, lats, code)
    best = crs_that_fit(x, y, roads)[0]
    chosen = pyproj.Transformer.from_crs(best.crs, 4326, always_xy=True).transform(x, y)
    _, _, metres = pyproj.Geod(ellps="WGS84").inv(*chosen, lons, lats)
    assert np.median(np.abs(metres)) < 5
    assert (
        best.crs.axis_info[0].unit_conversion_factor == pyproj.CRS.from_epsg(code).axis_info[0].unit_conversion_factor
    )
    assert not best.swapped


def test_the_crs_of_the_roads_comes_before_one_that_puts_cores_in_the_same_place():
    roads, lons, lats = _street(-82.2, 44.8, crs=26917)
    fits = crs_that_fit(*_written(lons, lats, 32617), roads)
    assert [fit.crs.to_epsg() for fit in fits] == [26917]
    assert "EPSG:32617" in fits[0].same


def test_swapped_coordinates_are_noticed():
    roads, lons, lats = _street(-82.2, 44.8)
    x, y = _written(lons, lats, 32617)
    assert [(fit.crs.to_epsg(), fit.swapped) for fit in crs_that_fit(y, x, roads)] == [(32617, True)]
    assert [fit.swapped for fit in crs_that_fit(lats, lons, roads)] == [True]


def test_two_crs_that_put_cores_near_the_roads_in_different_places_are_both_given():
    # NAD27 and its adjustment of 1976 lie some ten metres apart in Ontario
    roads, lons, lats = _street(-82.2, 44.8)
    codes = {fit.crs.to_epsg() for fit in crs_that_fit(*_written(lons, lats, 26717), roads)}
    assert codes == {26717, 2029}


def test_feet_of_two_kinds_are_both_given_however_near_they_put_the_cores():
    # Utah has its zones in US survey feet (3560) and in international feet (2280): here, two metres apart
    roads, lons, lats = _street(-111.9, 40.7)
    codes = {fit.crs.to_epsg() for fit in crs_that_fit(*_written(lons, lats, 3560), roads)}
    assert codes == {3560, 2280}


def test_a_few_wrong_positions_change_nothing():
    roads, lons, lats = _street(-82.2, 44.8)
    x, y = _written(lons, lats, 32617)
    x[:15], y[:15] = 10.0, 50.0
    assert [fit.crs.to_epsg() for fit in crs_that_fit(x, y, roads)] == [32617]


def test_roads_of_another_town_fit_nothing():
    roads, _, _ = _street(-79.4, 43.7)
    _, lons, lats = _street(-82.2, 44.8)
    assert crs_that_fit(lons, lats, roads) == []
    assert crs_that_fit(*_written(lons, lats, 32617), roads) == []


def test_no_positions_fit_nothing():
    roads, _, _ = _street(-82.2, 44.8)
    assert crs_that_fit(np.array([np.nan]), np.array([1.0]), roads) == []


def test_where_two_are_possible_that_of_the_roads_is_offered_first():
    # one road lies where the cores are in the one grid, the other a little beside where they are in the other
    _, lons, lats = _street(24.9, 60.17)
    x, y = _written(lons, lats, 23035)
    there = np.column_stack(pyproj.Transformer.from_crs(23035, 32635, always_xy=True).transform(x, y))
    lines = np.array([shapely.LineString(there), shapely.LineString(np.column_stack([x + 6, y]))])
    fits = crs_that_fit(x, y, Roads(lines, pyproj.CRS.from_epsg(3067)))
    assert [fit.crs.to_epsg() for fit in fits] == [3067, 23035]
    assert fits[0].median_m > fits[1].median_m


@pytest.mark.parametrize("axis", [0, 1])
def test_a_coordinate_with_the_null_of_a_map_program_changes_nothing(axis):
    """ESRI writes the lowest number that a double holds where there is none."""
    roads, lons, lats = _street(-82.2, 44.8, crs=32617)
    written = np.array(_written(lons, lats, 32617))
    written[axis, 3] = -1.7976931348623157e308
    assert [fit.crs.to_epsg() for fit in crs_that_fit(*written, roads)] == [32617]
