"""Coordinate reference systems: which one counts, and what is refused."""

import numpy as np
import pytest
from pyproj import CRS, Transformer

from pipeline.errors import InputError, SettingsError
from pipeline.intake.cells.positions import near_extent
from pipeline.intake.crs import (
    extent_of,
    layer_crs,
    name_of,
    parse_crs,
    refuse_stretch,
    run_crs,
    stretch_of,
    to_crs,
    transformation_accuracy_m,
)  # fmt: skip

_DEGREES, _UTM = CRS.from_epsg(4326), CRS.from_epsg(32617)
_TOWN = (-82.25, 44.75, -82.15, 44.85)
_TOWN_M = (404000.0, 4960000.0, 406000.0, 4962000.0)


def _settle(declared, written, extent, bulk=None):
    notices: list[str] = []
    return layer_crs(declared, written, extent, "roads.gpkg", "roads.crs", notices, bulk), notices


def test_a_crs_is_read_as_pyproj_reads_it_and_another_text_refused():
    assert parse_crs("EPSG:32617", "roads.crs") == _UTM
    with pytest.raises(SettingsError) as error:
        parse_crs("here", "roads.crs")
    assert str(error.value) == "roads.crs: found 'here', expected a CRS such as \"EPSG:4326\". Correct it."


def test_a_long_text_for_a_crs_is_shortened_in_the_error():
    with pytest.raises(SettingsError) as error:
        parse_crs("x" * 100_000, "roads.crs")
    assert len(str(error.value)) < 300


def test_the_declared_crs_counts_and_the_one_set_where_none_is_declared():
    assert _settle(_DEGREES, None, _TOWN) == (_DEGREES, [])
    assert _settle(None, "EPSG:32617", _TOWN_M) == (_UTM, [])
    # the same CRS twice is no difference
    assert _settle(_DEGREES, "EPSG:4326", _TOWN) == (_DEGREES, [])


def test_where_both_are_possible_the_declared_crs_wins_and_the_notice_says_so():
    crs, notices = _settle(_UTM, "EPSG:32618", _TOWN_M)
    assert crs == _UTM
    assert notices == ["roads.gpkg: declares EPSG:32617, which is used; roads.crs = EPSG:32618 is not."]


def test_metres_declared_as_degrees_are_read_in_the_crs_that_is_set():
    crs, notices = _settle(_DEGREES, "EPSG:32617", _TOWN_M)
    assert crs == _UTM
    assert "declares EPSG:4326, but its coordinates extend from 404,000 / 4,96" in notices[0]
    assert notices[0].endswith("roads.crs = EPSG:32617 is used.")


@pytest.mark.parametrize("written", [None, "EPSG:4269"])
def test_metres_in_no_crs_but_degrees_are_refused_with_what_to_set(written):
    with pytest.raises(InputError, match=r"which cannot be degrees\. Set roads\.crs to the CRS of these coordinates"):
        _settle(_DEGREES, written, _TOWN_M)


def test_a_layer_is_judged_by_most_of_its_features_where_single_ones_may_be_misplaced():
    assert _settle(_DEGREES, None, (-82.2, 44.8, 9e5, 9e5), bulk=_TOWN)[0] == _DEGREES


@pytest.mark.parametrize(
    ("extent", "is_possible"), [((179, 0, 361, 10), True), ((179, 0, 362, 10), False), ((0, -92, 1, 0), False)]
)
def test_a_layer_may_cross_the_date_line_and_no_pole(extent, is_possible):
    if is_possible:
        assert _settle(_DEGREES, None, extent)[0] == _DEGREES
    else:
        with pytest.raises(InputError):
            _settle(_DEGREES, None, extent)


def test_a_crs_has_the_code_of_its_authority_or_else_its_name():
    assert name_of(_UTM) == "EPSG:32617"
    assert name_of(CRS.from_proj4("+proj=tmerc +lat_0=1 +lon_0=2 +x_0=7 +datum=WGS84")) == "unknown"


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("EPSG:4326", "not a projected CRS"),
        ("EPSG:3857", "Web Mercator"),
        # US survey feet
        ("ESRI:102649", "in US survey foot"),
        # plate carrée, whose metres shrink with the cosine of the latitude
        ("ESRI:54001", "its metres differ from metres on the ground"),
    ],
)
def test_a_run_is_measured_in_metres_on_the_ground(text, reason):
    with pytest.raises(SettingsError) as error:
        run_crs(text, -82.2, 44.8, "programme.crs")
    said = str(error.value)
    assert said.startswith(f"programme.crs: '{text}' is ")
    assert reason in said
    assert said.endswith('expected a projected CRS in metres on the ground. Set "auto" to use UTM.')


def test_outside_every_zone_a_crs_has_to_be_set():
    with pytest.raises(
        InputError, match=r"^programme\.crs: the roads lie around 89\.0000, 10\.0000, outside every UTM zone"
    ):
        run_crs("auto", 10, 89, "programme.crs")


def test_there_and_back_a_position_is_the_same_and_what_has_no_image_is_missing():
    x, y = to_crs(np.array([-82.2, np.nan, np.inf]), np.array([44.8, 44.8, 44.8]), _DEGREES, _UTM)
    assert np.isnan(x).tolist() == [False, True, True]
    assert np.isnan(y).tolist() == [False, True, True]
    lon, lat = to_crs(x[:1], y[:1], _UTM, _DEGREES)
    assert (lon[0], lat[0]) == pytest.approx((-82.2, 44.8), abs=1e-9)


def test_an_extent_in_another_crs_holds_its_curved_sides():
    """A parallel curves north in UTM: the extent reaches further than its corners, on the meridian in the middle."""
    west, south, east, north = extent_of((-84, 44, -78, 45), _DEGREES, _UTM)
    corner_x, corner_y = to_crs(np.array([-84.0, -78.0]), np.array([44.0, 44.0]), _DEGREES, _UTM)
    _, middle_y = to_crs(np.array([-81.0]), np.array([44.0]), _DEGREES, _UTM)
    assert (west, east) == pytest.approx(tuple(corner_x), abs=1)
    assert south == pytest.approx(middle_y[0], abs=10)
    assert south < corner_y[0] - 1000
    assert extent_of(_TOWN, _DEGREES, _DEGREES) == _TOWN
    assert north > south


def test_the_accuracy_of_a_transformation_is_zero_within_a_datum_and_known_or_not_between_two():
    assert transformation_accuracy_m(_UTM, _UTM) == 0
    assert transformation_accuracy_m(_DEGREES, _UTM) == 0
    # without the grid of its datum, the British grid is good to metres
    assert transformation_accuracy_m(CRS.from_epsg(27700), _DEGREES) >= 1
    local = CRS.from_proj4("+proj=tmerc +lat_0=44 +lon_0=-82 +ellps=intl")
    assert transformation_accuracy_m(local, _DEGREES) is None


def test_the_stretch_of_a_transverse_mercator_is_that_of_its_published_formula():
    # UTM on the central meridian: 0.9996; 3 degrees off it at the equator, 0.9996 (1 + (cos(lat) dlon)^2 / 2) by the
    # series of J. P. Snyder, Map Projections: A Working Manual, USGS Professional Paper 1395, eq. 8-11 (first term)
    middle = stretch_of(_UTM, np.array([-81.0]), np.array([44.8]))
    assert middle == pytest.approx(4e-4, abs=1e-9)
    edge = stretch_of(_UTM, np.array([-78.0]), np.array([0.0]))
    assert edge == pytest.approx(0.9996 * (1 + np.radians(3) ** 2 / 2) - 1, abs=2e-5)


def test_roads_that_reach_too_far_for_one_crs_stop_the_run():
    with pytest.raises(InputError, match=r"^programme\.crs: the roads extend from -122\.00, 30\.00 to -70\.00, 48\.00"):
        refuse_stretch(_UTM, (-122, 30, -70, 48), _DEGREES, "programme.crs", [], lambda: "Feature 3 of roads.gpkg")


def test_a_stretch_that_shows_in_a_length_is_reported():
    notices: list[str] = []
    assert refuse_stretch(_UTM, (-82.3, 44.7, -82.1, 44.9), _DEGREES, "programme.crs", notices, str) < 0.001
    assert notices == []
    assert refuse_stretch(_UTM, (-76.0, 44.7, -75.9, 44.9), _DEGREES, "programme.crs", notices, str) > 0.001
    assert notices[0].startswith("EPSG:32617: lengths differ from lengths on the ground by up to 0.")


@pytest.mark.parametrize("text", ["auto", "EPSG:32617"])
def test_roads_that_lie_nowhere_are_refused(text):
    with pytest.raises(InputError, match=r"programme\.crs: the roads lie beyond what their CRS can hold"):
        run_crs(text, float("nan"), 44.8, "programme.crs")


def test_roads_across_the_date_line_are_near_each_other():
    """Fiji Map Grid holds both sides of 180 degrees, which in degrees is from 179.8 to -179.8."""
    fiji, to_fiji = CRS.from_epsg(3460), Transformer.from_crs(_DEGREES, 3460, always_xy=True)
    west, east = to_fiji.transform(179.8, -16.8), to_fiji.transform(-179.8, -16.7)
    roads = (west[0], west[1], east[0], east[1])
    assert refuse_stretch(fiji, roads, fiji, "programme.crs", [], str) < 0.001
    x, y = np.array([179.9, -179.9, 0.0, 178.0]), np.full(4, -16.75)
    assert near_extent(x, y, extent_of(roads, fiji, _DEGREES), _DEGREES).tolist() == [True, True, False, False]
