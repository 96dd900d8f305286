"""Coordinates and distances on the map page against PROJ, through pyproj: transformations and ``Geod`` on WGS 84."""

import numpy as np
import pytest
from pyproj import Geod, Transformer

from pipeline.publish.map.grid import fit_grid
from tests.browser.browser import open_page
from tests.browser.town import saved, view, wait_until_drawn

_CASES = [
    # a town, a county, at the edge of a zone, a national grid, south of the equator
    ("EPSG:32617", [[44.797, -82.005], [44.804, -81.995]]),
    ("EPSG:32617", [[44.0, -83.5], [45.5, -81.0]]),
    ("EPSG:3067", [[60.1, 24.0], [60.9, 25.6]]),
    ("EPSG:2154", [[43.1, 5.1], [43.5, 5.7]]),
    ("EPSG:32733", [[-34.2, 18.3], [-33.6, 19.0]]),
]


def evaluated(grid, lon, lat):
    """The polynomial, a term at a time."""
    u = (lon - grid["middle"][0]) / grid["half"][0]
    v = (lat - grid["middle"][1]) / grid["half"][1]
    return [sum(c * u**i * v**j for (i, j), c in zip(grid["powers"], grid[way])) for way in ("east", "north")]


@pytest.mark.parametrize(("crs", "bounds"), _CASES)
def test_the_polynomial_is_within_its_stated_error_and_half_a_metre(crs, bounds):
    grid = fit_grid(crs, bounds)
    (south, west), (north, east) = bounds
    random = np.random.default_rng(4)
    lon = random.uniform(1.5 * west - 0.5 * east, 1.5 * east - 0.5 * west, 3000)
    lat = random.uniform(1.5 * south - 0.5 * north, 1.5 * north - 0.5 * south, 3000)
    true = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform(lon, lat)
    off = np.hypot(*(np.array(evaluated(grid, lon, lat)) - np.array(true)))
    assert off.max() <= grid["error_m"] + 0.005
    assert grid["error_m"] < 0.5


def test_a_continent_has_no_grid_and_neither_has_an_unknown_system():
    assert fit_grid("EPSG:32617", [[-60.0, -170.0], [70.0, 60.0]]) is None
    assert fit_grid("a local system", _CASES[0][1]) is None


def test_the_page_gives_the_coordinates_and_distances_of_proj(tmp_path):
    with open_page(saved(tmp_path, view())) as page:
        wait_until_drawn(page)
        to_run = Transformer.from_crs("EPSG:4326", "EPSG:32617", always_xy=True)
        for lon, lat in ((-82.004, 44.798), (-81.996, 44.803), (-82.0, 44.8)):
            assert page.ask(f"KerfbookGrid.toRun({lat}, {lon})") == pytest.approx(to_run.transform(lon, lat), abs=0.05)
        # far outside of what was fitted there is none
        assert page.ask("KerfbookGrid.toRun(10, 10)") is None
        geod = Geod(ellps="WGS84")
        for one, other in (
            ((44.8, -82.0), (44.8005, -82.001)),
            ((44.8, -82.0), (60.17, 24.94)),
            ((0.0, 0.0), (0.0, 1.0)),
            ((-33.9, 18.4), (51.5, -0.1)),
            ((44.8, -82.0), (44.8, -82.0)),
        ):
            true = geod.inv(one[1], one[0], other[1], other[0])[2]
            assert page.ask(f"KerfbookMeasure.between({list(one)}, {list(other)})") == pytest.approx(true, abs=0.001)
