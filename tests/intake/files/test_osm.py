"""OpenStreetMap extracts: the keys that a programme names are columns."""

import pyogrio

from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.osm import osm_keys
from pipeline.programme.settings import Layer

_OSM = """<?xml version="1.0"?><osm version="0.6">
<node id="1" lat="44.8" lon="-82.2" version="1"/><node id="2" lat="44.81" lon="-82.2" version="1"/>
<way id="9" version="1"><nd ref="1"/><nd ref="2"/><tag k="highway" v="residential"/><tag k="name" v="Quay"/>
<tag k="lanes:note" v="two"/></way></osm>"""


def test_keys_of_an_openstreetmap_extract_are_columns_when_the_programme_names_them(tmp_path):
    (tmp_path / "roads.osm").write_text(_OSM, encoding="utf-8")
    keys = {"columns": {"street": "name", "road_class": "lanes:note"}, "layer": "lines"}
    table = read_raw(Layer(path="roads.osm", **keys), tmp_path, "roads", ["name", "lanes:note", "osm_id"])
    assert table.frame[["name", "lanes:note", "osm_id"]].to_numpy().tolist() == [["Quay", "two", "9"]]


def test_other_formats_are_left_alone_and_the_option_goes_again(tmp_path):
    with osm_keys(tmp_path / "a.gpkg", Layer(path="a.gpkg"), tmp_path):
        assert pyogrio.get_gdal_config_option("OSM_CONFIG_FILE") is None
    with osm_keys(tmp_path / "a.pbf", Layer(path="a.pbf", where="surface = 'sett' AND lit"), tmp_path):
        config = pyogrio.get_gdal_config_option("OSM_CONFIG_FILE")
        assert "attributes=name,highway,surface,sett,lit\n" in (tmp_path / "osm.ini").read_text(encoding="utf-8")
    assert config == str(tmp_path / "osm.ini")
    assert pyogrio.get_gdal_config_option("OSM_CONFIG_FILE") is None
