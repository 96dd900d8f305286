"""Map layers as proposed sections."""

import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely

from pipeline.errors import InputError
from pipeline.programme.catalogue import load_catalogue
from pipeline.propose.crs_by_roads import Roads
from pipeline.propose.header_words import header_words
from pipeline.propose.layers import propose_layer, roads_of

_LINES = [shapely.LineString([(-82.21, 44.8), (-82.2, 44.8)]), shapely.LineString([(-82.2, 44.8), (-82.19, 44.8)])]
# the writer warns of what is tested here
_NO_CRS = pytest.mark.filterwarnings("ignore:'crs' was not provided")
_BOX = shapely.box(-82.21, 44.79, -82.19, 44.81)


@pytest.fixture(scope="module")
def catalogue():
    return load_catalogue({}, "programme.toml")


def _proposed(folder, kind, catalogue, geometry, /, crs=4326, layer="a", roads=None, **columns):
    file = folder / "a.gpkg"
    gpd.GeoDataFrame(columns, geometry=geometry, crs=crs).to_file(file, layer=layer)
    return propose_layer(file, "a.gpkg", kind, header_words()[kind], catalogue, roads)


def test_the_columns_of_roads_are_those_that_their_headers_name(tmp_path, catalogue):
    found = _proposed(
        tmp_path, "roads", catalogue, _LINES,
        seg_no=["S1", "S2"], name=["Quay Road", "Quay Road"], surface=["asphalt", "concrete"], owner=["City", "City"],
    )  # fmt: skip
    assert found.columns == {"segment_id": "seg_no", "street": "name", "surface": "surface", "road_authority": "owner"}
    assert found.section.questions == []


def test_a_segment_id_that_nothing_names_is_asked_for(tmp_path, catalogue):
    found = _proposed(tmp_path, "roads", catalogue, _LINES, kanten=["S1", "S2"], name=["Quay Road", "Quay Road"])
    choices = found.section.questions[0].choices
    assert [(choice.label, choice.reading) for choice in choices] == [('"kanten"', "S1, S2")]


def test_a_column_of_works_has_to_hold_dates(tmp_path, catalogue):
    found = _proposed(
        tmp_path, "resurfaced", catalogue, _LINES, date=["soon", "later"], finished=["2023-06-12", "2019-08-05"]
    )
    assert found.columns == {"resurfaced_on": "finished"}


def test_of_several_layers_the_one_called_like_the_section_is_read(tmp_path, catalogue):
    gpd.GeoDataFrame({"x": ["a"]}, geometry=[_BOX], crs=4326).to_file(tmp_path / "a.gpkg", layer="wards")
    found = _proposed(tmp_path, "districts", catalogue, [_BOX], layer="districts 2026", ward=["North"])
    assert [(one.key, one.value) for one in found.section.settings] == [
        ("path", "a.gpkg"), ("layer", "districts 2026"), ("district", "ward"),
    ]  # fmt: skip


def test_of_several_layers_that_no_name_tells_apart_one_is_asked_for(tmp_path, catalogue):
    gpd.GeoDataFrame({"ward": ["a"]}, geometry=[_BOX], crs=4326).to_file(tmp_path / "a.gpkg", layer="a1")
    found = _proposed(tmp_path, "districts", catalogue, [_BOX], layer="a2", ward=["North"])
    assert [choice.label for choice in found.section.questions[0].choices] == ['"a1"', '"a2"']


@_NO_CRS
def test_a_layer_without_a_crs_gets_the_one_that_puts_it_on_the_roads(tmp_path, catalogue):
    roads = Roads(np.array(_LINES), pyproj.CRS.from_epsg(4326))
    shape = gpd.GeoSeries(_LINES, crs=4326).to_crs(32617).set_crs(None, allow_override=True)
    found = _proposed(tmp_path, "joints", catalogue, shape, crs=None, roads=roads)
    assert [(one.key, one.value) for one in found.section.settings] == [("path", "a.gpkg"), ("crs", "EPSG:32617")]


@_NO_CRS
def test_roads_without_a_crs_are_a_question_and_show_nothing(tmp_path, catalogue):
    found = _proposed(tmp_path, "roads", catalogue, _LINES, crs=None, seg_id=["1", "2"])
    assert "Which CRS is the layer in?" in found.section.questions[0].text
    assert roads_of(found) is None


def test_a_layer_of_roads_without_lines_is_refused(tmp_path, catalogue):
    found = _proposed(tmp_path, "roads", catalogue, [_BOX], seg_id=["1"])
    with pytest.raises(InputError, match=r"a\.gpkg: the layer has no lines"):
        roads_of(found)


def test_of_a_map_extract_the_ways_that_are_roads_are_proposed(tmp_path, catalogue):
    ways = "".join(
        f'<way id="{n}" version="1"><nd ref="1"/><nd ref="2"/><tag k="{key}" v="{value}"/><tag k="name" v="Quay"/></way>'
        for n, (key, value) in enumerate([("highway", "residential"), ("waterway", "river")], start=1)
    )
    nodes = '<node id="1" version="1" lat="44.8" lon="-82.2"/><node id="2" version="1" lat="44.8" lon="-82.1"/>'
    (tmp_path / "a.osm").write_text(f'<osm version="0.6">{nodes}{ways}</osm>', "utf-8")
    found = propose_layer(tmp_path / "a.osm", "a.osm", "roads", header_words()["roads"], catalogue, None)
    values = {one.key: one.value for one in found.section.settings if not one.table}
    assert values == {"path": "a.osm", "layer": "lines", "where": "highway IS NOT NULL"}
    assert (len(found.table.frame), found.columns["street"], found.columns["road_class"]) == (1, "name", "highway")
    assert roads_of(found) is not None
