"""Real layers in feet, in Web Mercator, without a CRS and with a wrong one: the right metres, or the right error.

Source: the example layers of the package libpysal 4.14.1: ``geodanet`` (streets and crimes in US survey feet,
ESRI:102649), ``snow_maps`` (Soho 1854 in EPSG:3857), ``chicago`` (community areas, no CRS), ``street_net_pts`` and
``baltim/baltimore.geojson`` (both labelled as degrees, with coordinates that are not). The expected offsets are
measured here in numpy in the layers' own coordinates and converted to metres by hand.
"""

import importlib.util
from math import cos, radians, sin, sqrt
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyproj
import pytest
import shapely

from pipeline.errors import InputError

EXAMPLES = Path(importlib.util.find_spec("libpysal").origin).parent / "examples"
GEODANET, SNOW = EXAMPLES / "geodanet", EXAMPLES / "snow_maps"
# the US survey foot: 1200/3937 m, by definition
SURVEY_FOOT_M = 1200 / 3937
# the frames of a run are not rounded: what remains is the change of scale of the two projections from the middle
# of the layer to its edges (1.5e-6 over 800 m), and a tenth of a millimetre for the bend of a line
SHARE = 5e-6


def _xy(path):
    points = gpd.read_file(path).geometry
    return np.column_stack([points.x, points.y])


def _cores(path, core_id, more=""):
    """Return the settings of a layer of points as cores; it has no sizes, so any column of numbers is used for them."""
    return (
        f'[cores]\npath = "{path.as_posix()}"\n'
        f'columns = {{ core_id = "{core_id}", diameter = "{core_id}", depth = "{core_id}" }}\n'
        f'units = {{ diameter = "mm", depth = "mm" }}\n{more}\n'
    )


def _roads(path, columns=""):
    return f'[roads]\npath = "{path.as_posix()}"\ncolumns = {{ {columns} }}\n'


_HEAD = '[programme]\nname = "x"\nas_of = 2026-09-30\n'
_REACH = '[matching]\nchoose = "nearest"\nmax_distance = "200 m"\n'


def _tm_scale(k0, central, lon, lat):
    """Return the scale of a transverse Mercator projection near its meridian: k0 (1 + (dlon cos lat)^2 / 2)."""
    return k0 * (1 + (radians(lon - central) * cos(radians(lat))) ** 2 / 2)


def _feet_to_run_metres(lon, lat):
    """Return the metres of UTM zone 12 (scale 0.9996 at 111 W) per foot of Arizona Central (0.9999 at 111 55' W)."""
    return SURVEY_FOOT_M * _tm_scale(0.9996, -111, lon, lat) / _tm_scale(0.9999, -(111 + 55 / 60), lon, lat)


def _central_arizona(x_ft, y_ft):
    """Return degrees for coordinates in survey feet: the zone as it is defined, in metres, and feet by 1200/3937."""
    zone = "+proj=tmerc +lat_0=31 +lon_0=-111.9166666666667 +k=0.9999 +x_0=213360 +y_0=0 +ellps=GRS80 +units=m"
    return pyproj.Proj(zone)(x_ft * SURVEY_FOOT_M, y_ft * SURVEY_FOOT_M, inverse=True)


def test_us_survey_feet_come_out_in_metres(place_text, over_every_leg):
    result = place_text(
        _HEAD
        + _cores(GEODANET / "crimes.shp", "POLYID")
        + _roads(GEODANET / "streets.shp", 'segment_id = "ID"')
        + _REACH
    )
    cores = result.cores
    assert len(cores) == 287
    feet = _xy(GEODANET / "crimes.shp")
    streets = gpd.read_file(GEODANET / "streets.shp")
    foot = over_every_leg(feet, streets.geometry)
    lon, lat = _central_arizona(*feet.T)
    # an international foot in place of the survey foot, 2 parts per million or 0.9 m out here, would show
    np.testing.assert_allclose(cores["lon"], lon, atol=1e-7)
    np.testing.assert_allclose(cores["lat"], lat, atol=1e-7)
    metres = _feet_to_run_metres(float(np.median(lon)), float(np.median(lat)))
    assert metres / SURVEY_FOOT_M == pytest.approx(0.99977, abs=2e-5)
    assert cores["segment_id"].astype(int).tolist() == streets["ID"].astype(int).to_numpy()[foot.line].tolist()
    np.testing.assert_allclose(cores["offset_m"], foot.off * metres, rtol=SHARE, atol=1e-4)
    np.testing.assert_allclose(cores["chainage_m"], foot.along * metres, rtol=SHARE, atol=1e-4)
    # 90.26 ft on average: feet taken for metres would put three in five more beyond the usual 15 m
    assert cores["offset_m"].mean() == pytest.approx(27.51, abs=0.01)


def test_a_block_of_a_furlong_is_201_m_long(place_text):
    """The town was laid out in blocks of a furlong, 660 ft or 201.168 m; UTM scales that by 0.99977."""
    result = place_text(
        _HEAD + _cores(GEODANET / "crimes.shp", "POLYID") + _roads(GEODANET / "streets.shp", 'segment_id = "ID"')
    )
    feet = gpd.read_file(GEODANET / "streets.shp").set_index("ID").length
    segments = result.inputs.segments.set_index("segment_id")
    assert len(segments) == len(feet) == 293
    furlongs = feet.index[feet.between(659.99, 660.01)].astype(int).astype(str)
    assert len(furlongs) > 20
    np.testing.assert_allclose(segments.loc[furlongs].length, 201.168 * 0.99977, atol=0.006)
    by_id = feet.set_axis(feet.index.astype(int).astype(str)).loc[segments.index]
    np.testing.assert_allclose(segments.length, by_id * _feet_to_run_metres(-111.832, 33.415), rtol=SHARE)


def test_a_reach_in_feet_and_one_in_metres_choose_the_same(place_text):
    text = _HEAD + _cores(GEODANET / "crimes.shp", "POLYID") + _roads(GEODANET / "streets.shp", 'segment_id = "ID"')
    in_feet = place_text(text + '[matching]\nchoose = "nearest"\nmax_distance = "50 ft"\n').cores
    in_metres = place_text(text + '[matching]\nchoose = "nearest"\nmax_distance = "15.24 m"\n').cores
    pd.testing.assert_series_equal(in_feet["segment_id"], in_metres["segment_id"])
    assert 50 < in_feet["segment_id"].notna().sum() < 150


def test_web_mercator_comes_out_in_metres_on_the_ground(place_text, over_every_leg):
    """Its units are 1.6 times too long in London: the mean distance of 8.47 is 5.27 m."""
    mercator = _xy(SNOW / "SohoPeople.shp")
    lines = gpd.read_file(SNOW / "Soho_Network.shp").geometry
    assert over_every_leg(mercator, lines).off.mean() == pytest.approx(8.47, abs=0.005)
    head = _HEAD + 'crs = "EPSG:27700"\n'
    cores = place_text(head + _cores(SNOW / "SohoPeople.shp", "Id") + _roads(SNOW / "Soho_Network.shp") + _REACH).cores
    assert cores["offset_m"].mean() == pytest.approx(5.27, abs=0.005)
    assert len(cores) == 324

    # by hand: Web Mercator stretches by a / (N cos lat) east and a / (M cos lat) north on the WGS 84 ellipsoid
    lat, e2 = radians(51.5132), 0.00669437999
    w = sqrt(1 - e2 * sin(lat) ** 2)
    ground = np.array([cos(lat) / w, cos(lat) * (1 - e2) / w**3])
    # the British grid: 0.9996012717 at 2 W, so 0.99981 in Soho
    grid = _tm_scale(0.9996012717, -2, -0.1365, 51.5132)
    foot = over_every_leg(mercator * ground, [shapely.transform(line, lambda xy: xy * ground) for line in lines])
    # 600 m north and south of the middle the stretch differs by one part in 9,000
    np.testing.assert_allclose(cores["offset_m"], foot.off * grid, rtol=3e-4, atol=0.002)


def test_a_layer_without_segment_ids_is_numbered_by_its_rows(place_text, over_every_leg):
    cores = place_text(_HEAD + _cores(SNOW / "SohoPeople.shp", "Id") + _roads(SNOW / "Soho_Network.shp") + _REACH).cores
    foot = over_every_leg(_xy(SNOW / "SohoPeople.shp"), gpd.read_file(SNOW / "Soho_Network.shp").geometry)
    same = cores["segment_id"].astype(int).to_numpy() == foot.line + 1
    # north and east are stretched a little differently on the ground: a core halfway between two lines may change
    assert same.mean() > 0.98


# street corners of Chicago, and the community area that each is known to lie in
CORNERS = {
    "State and Madison": (-87.6278, 41.8820, "LOOP"),
    "Clark and Addison": (-87.6564, 41.9472, "LAKE VIEW"),
    "57th and Lake Park": (-87.5875, 41.7914, "HYDE PARK"),
    "Damen and North": (-87.6775, 41.9103, "WEST TOWN"),
}
# the counties' own grid: Illinois East, in US survey feet
ILLINOIS_EAST = "EPSG:3435"


def _chicago(folder, crs):
    rows = [f"{name},{lon},{lat},450 mm,200 mm" for name, (lon, lat, _) in CORNERS.items()]
    (folder / "corners.csv").write_text("\n".join(["core_id,lon,lat,diameter,depth", *rows]), encoding="utf-8")
    lines = [shapely.LineString([(lon - 0.001, lat), (lon + 0.001, lat)]) for lon, lat, _ in CORNERS.values()]
    gpd.GeoDataFrame({"segment_id": list("1234")}, geometry=lines, crs=4326).to_file(folder / "roads.geojson")
    return (
        _HEAD + '[cores]\npath = "corners.csv"\n[roads]\npath = "roads.geojson"\n[districts]\n'
        f'path = "{(EXAMPLES / "chicago" / "Chicago77.shp").as_posix()}"\ncolumns = {{ district = "COMMUNITY" }}\n{crs}\n'
    )


def test_a_layer_without_a_crs_is_refused_with_the_key_that_mends_it(place_text, tmp_path):
    with pytest.raises(InputError) as error:
        place_text(_chicago(tmp_path, ""))
    said = str(error.value)
    assert "Chicago77.shp: the layer declares no CRS" in said
    assert "Set districts.crs to the CRS of its coordinates, such as" in said


def test_a_layer_whose_crs_is_set_is_read(place_text, tmp_path):
    result = place_text(_chicago(tmp_path, f'crs = "{ILLINOIS_EAST}"'))
    assert result.cores["district"].tolist() == [area for _, _, area in CORNERS.values()]
    assert len(result.inputs.districts) == 77
    # the layer gives its areas in square feet; UTM zone 16 is 0.99961 per metre on the ground in Chicago, and Illinois
    # East 0.99995 there, so that an area differs by 7 parts in 10,000
    said = gpd.read_file(EXAMPLES / "chicago" / "Chicago77.shp").groupby("COMMUNITY")["SHAPE_AREA"].sum()
    scale = _tm_scale(0.9996, -87, -87.68, 41.84) / _tm_scale(0.999975, -(88 + 20 / 60), -87.68, 41.84)
    metres = said.loc[result.inputs.districts["district"]].to_numpy() * (SURVEY_FOOT_M * scale) ** 2
    np.testing.assert_allclose(result.inputs.districts.area, metres, rtol=1e-4)


def test_a_wrong_crs_over_the_right_layer_is_reported_as_no_overlap(place_text, tmp_path):
    """Illinois West, or metres for feet, puts Chicago elsewhere."""
    with pytest.raises(InputError, match=r"does not overlap the roads .*Check districts\.crs and districts\.path\.$"):
        place_text(_chicago(tmp_path, 'crs = "EPSG:26971"'))


def test_points_labelled_degrees_that_are_feet_are_refused_then_read_in_feet(place_text, over_every_leg):
    points = EXAMPLES / "street_net_pts" / "street_net_pts.shp"
    roads = _roads(GEODANET / "streets.shp", 'segment_id = "ID"') + _REACH
    with pytest.raises(InputError) as error:
        place_text(_HEAD + _cores(points, "ID") + roads)
    said = str(error.value)
    assert (
        "street_net_pts.shp: the CRS is EPSG:4326, in degrees, but its coordinates extend from 723,368 / 875,926"
        in said
    )
    assert "which cannot be degrees. Set cores.crs to the CRS of these coordinates" in said

    result = place_text(_HEAD + _cores(points, "ID", 'crs = "ESRI:102649"') + roads)
    assert any(
        "declares EPSG:4326" in notice and "cores.crs = ESRI:102649 is used" in notice
        for notice in result.inputs.notices
    )
    streets = gpd.read_file(GEODANET / "streets.shp")
    foot = over_every_leg(_xy(points), streets.geometry)
    metres = _feet_to_run_metres(-111.832, 33.415)
    assert result.cores["lon"].notna().sum() == 303
    assert result.cores["segment_id"].astype(int).tolist() == streets["ID"].astype(int).to_numpy()[foot.line].tolist()
    np.testing.assert_allclose(result.cores["offset_m"], foot.off * metres, rtol=SHARE, atol=1e-4)
    assert result.cores["offset_m"].mean() == pytest.approx(32.15, abs=0.01)


# the grid of Maryland as it was in 1978 (NAD27, 800,000 ft at 77 W), in thousands of US survey feet
MARYLAND = (
    "+proj=lcc +lat_1=38.3 +lat_2=39.45 +lat_0=37.8333333333333 +lon_0=-77 +x_0=243840.487680975 +y_0=0 +datum=NAD27 "
    "+to_meter=304.800609601219 +type=crs"
)


def _baltimore(folder, crs=""):
    street = gpd.GeoDataFrame(
        {"segment_id": ["1"]}, geometry=[shapely.LineString([(-76.70, 39.29), (-76.52, 39.29)])], crs=4326
    )
    street.to_file(folder / "roads.geojson")
    houses = EXAMPLES / "baltim" / "baltimore.geojson"
    return (
        _HEAD
        + _cores(houses, "STATION", crs)
        + '[roads]\npath = "roads.geojson"\n[matching]\nchoose = "nearest"\nmax_distance = "50 km"\n'
    )


def test_a_geojson_whose_coordinates_are_not_degrees_is_refused(place_text, tmp_path):
    with pytest.raises(
        InputError, match=r"baltimore\.geojson: the CRS is EPSG:4326, in degrees, but .* Set cores\.crs"
    ):
        place_text(_baltimore(tmp_path))


def test_a_geojson_in_thousands_of_feet_is_read_when_its_crs_is_set(place_text, tmp_path):
    result = place_text(_baltimore(tmp_path, f'crs = "{MARYLAND}"'))
    assert result.cores["lon"].notna().sum() == 211
    # the houses lie in and around the city, whose middle is 39.29 N 76.61 W
    assert result.cores["lon"].median() == pytest.approx(-76.61, abs=0.06)
    assert result.cores["lat"].median() == pytest.approx(39.29, abs=0.06)
    # a thousand feet in the file is a thousand feet on the ground, within the scale of two projections
    thousands = _xy(EXAMPLES / "baltim" / "baltimore.geojson")
    apart_ft = np.hypot(*(thousands[1:] - thousands[0]).T) * 1000
    apart_m = np.hypot(
        result.cores["x_m"][1:] - result.cores["x_m"][0], result.cores["y_m"][1:] - result.cores["y_m"][0]
    )
    np.testing.assert_allclose(apart_m, apart_ft * SURVEY_FOOT_M, rtol=1e-3, atol=0.1)
