"""Map layers as files: which layer, which columns, which rows, and what a file is known by."""

import hashlib
import sqlite3
import zipfile
from contextlib import closing

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely

from pipeline.errors import InputError
from pipeline.intake.files.checksums import fingerprint
from pipeline.intake.files.layers import read_raw
from pipeline.programme.settings import Layer

_FRAME = gpd.GeoDataFrame(
    {"id": ["a", "b", "c"], "width": pd.array([7, None, 9], dtype="Int64"), "Name": ["Quay", "", None]},
    geometry=[shapely.LineString([(x, 0), (x + 5, 0)]) for x in (0, 10, 20)],
    crs=32617,
)


def _read(folder, path, wanted=None, **keys):
    return read_raw(Layer(path=path, **keys), folder, "roads", wanted)


@pytest.fixture
def roads(tmp_path):
    _FRAME.to_file(tmp_path / "roads.gpkg", layer="roads")
    return tmp_path


def test_every_cell_comes_as_text_and_whole_numbers_stay_whole(roads):
    table = _read(roads, "roads.gpkg")
    assert table.frame["id"].tolist() == ["a", "b", "c"]
    assert table.frame["width"].fillna("").tolist() == ["7", "", "9"]
    assert table.frame["Name"].fillna("").tolist() == ["Quay", "", ""]
    assert shapely.get_type_id(table.geometry).tolist() == [1, 1, 1]
    assert (table.crs.to_epsg(), table.rows.tolist(), table.rows_in_file) == (32617, [1, 2, 3], 3)


def test_only_the_columns_asked_for_are_read_in_whatever_case_and_all_are_known(roads):
    table = _read(roads, "roads.gpkg", ["name", "nothing"])
    assert table.frame.columns.tolist() == ["Name"]
    assert table.fields == ["id", "width", "Name"]


def test_a_condition_keeps_the_numbers_of_the_rows(roads):
    table = _read(roads, "roads.gpkg", where="id <> 'b'")
    assert table.frame["id"].tolist() == ["a", "c"]
    assert (table.rows.tolist(), table.rows_in_file) == ([1, 3], 3)


def test_a_condition_that_selects_nothing_is_refused_with_what_there_is(roads):
    with pytest.raises(InputError) as error:
        _read(roads, "roads.gpkg", where="id = 'z'")
    assert str(error.value) == (
        "roads.gpkg: roads.where = \"id = 'z'\" selects no features; the file has 3. Correct the condition."
    )


def test_of_several_layers_one_has_to_be_named(roads):
    _FRAME.to_file(roads / "roads.gpkg", layer="lanes")
    with pytest.raises(
        InputError, match=r"the file has 2 layers \(.*\); expected one\. Give its name in roads\.layer\."
    ):
        _read(roads, "roads.gpkg")
    assert len(_read(roads, "roads.gpkg", layer="lanes").frame) == 3
    with pytest.raises(InputError, match=r"no layer 'paths'; the file has: .*Correct roads\.layer\."):
        _read(roads, "roads.gpkg", layer="paths")


def test_a_table_beside_the_one_map_layer_is_passed_over(roads):
    pyogrio.write_dataframe(pd.DataFrame({"note": ["x"]}), roads / "roads.gpkg", layer="notes", append=False)
    assert len(pyogrio.list_layers(roads / "roads.gpkg")) == 2
    assert _read(roads, "roads.gpkg").frame["id"].tolist() == ["a", "b", "c"]


def test_a_file_that_is_not_there_is_named_with_its_key(tmp_path):
    with pytest.raises(
        InputError, match=r"^nowhere\.gpkg: no such file \(looked for .*nowhere\.gpkg\)\. Correct roads\.path\.$"
    ):
        _read(tmp_path, "nowhere.gpkg")


def test_a_file_that_is_no_map_is_refused_and_a_condition_named(tmp_path):
    (tmp_path / "roads.geojson").write_text("not a map", encoding="utf-8")
    with pytest.raises(
        InputError, match=r"^roads\.geojson: cannot be read as a map layer .*Check that the file is complete"
    ):
        _read(tmp_path, "roads.geojson")
    with pytest.raises(InputError, match=r"If it opens elsewhere, check roads\.where = 'a = 1'\."):
        _read(tmp_path, "roads.geojson", where="a = 1")


def test_curves_are_refused_with_the_command_that_straightens_them(tmp_path):
    shape = shapely.LineString([(0, 0), (1, 1)])
    gpd.GeoDataFrame({"id": ["a"]}, geometry=[shape], crs=32617).to_file(tmp_path / "x.gpkg")
    # a CIRCULARSTRING in well-known binary: type 8, three points
    curve = b"\x01" + (8).to_bytes(4, "little") + (3).to_bytes(4, "little") + np.array([0.0, 0, 1, 1, 2, 0]).tobytes()
    with closing(sqlite3.connect(tmp_path / "x.gpkg")) as database, database:
        header = database.execute("SELECT geom FROM x").fetchone()[0][:8]
        for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            database.execute(f"DROP TRIGGER {name}")
        database.execute("UPDATE x SET geom = ?", (header[:3] + b"\x01" + header[4:8] + curve,))
        database.execute("UPDATE gpkg_geometry_columns SET geometry_type_name = 'GEOMETRY'")
    with pytest.raises(InputError, match="the layer has curves, which cannot be read"):
        _read(tmp_path, "x.gpkg")


def _zipped(folder, *names):
    with zipfile.ZipFile(folder / "roads.zip", "w") as archive:
        for name in names:
            archive.write(folder / "roads.gpkg", name)


def test_the_one_map_in_an_archive_is_read_wherever_it_lies(roads):
    _zipped(roads, "deep/inside/roads.gpkg", "__MACOSX/._roads.gpkg", "read.me")
    assert _read(roads, "roads.zip").frame["id"].tolist() == ["a", "b", "c"]


@pytest.mark.parametrize(
    ("names", "what"),
    [((), "no map file"), (("a.txt",), "no map file"), (("a.gpkg", "b.gpkg"), r"2 map files \(a\.gpkg, b\.gpkg\)")],
)
def test_an_archive_of_no_map_or_of_several_is_refused(roads, names, what):
    _zipped(roads, *names)
    with pytest.raises(InputError, match=rf"the archive has {what}; expected exactly one\. Unpack it"):
        _read(roads, "roads.zip")


def test_an_archive_that_is_none_is_refused(tmp_path):
    (tmp_path / "roads.zip").write_bytes(b"PK and no more")
    with pytest.raises(InputError, match="cannot be read as a zip archive"):
        _read(tmp_path, "roads.zip")


def test_parquet_comes_with_or_without_geometry_and_a_named_index_is_a_column(tmp_path):
    _FRAME.to_parquet(tmp_path / "roads.parquet")
    assert _read(tmp_path, "roads.parquet").crs.to_epsg() == 32617
    pd.DataFrame({"a": [1.0, 2.5]}, index=pd.Index(["x", "y"], name="id")).to_parquet(tmp_path / "table.parquet")
    table = _read(tmp_path, "table.parquet")
    assert table.frame.to_dict("list") == {"id": ["x", "y"], "a": ["1", "2.5"]}
    assert table.geometry is None
    (tmp_path / "bad.parquet").write_bytes(b"PAR1 and no more")
    with pytest.raises(InputError, match=r"cannot be read as Parquet .*Export it again"):
        _read(tmp_path, "bad.parquet")
    pd.DataFrame({"a": []}).to_parquet(tmp_path / "empty.parquet")
    with pytest.raises(InputError, match="the file has no rows"):
        _read(tmp_path, "empty.parquet")


_OSM = """<?xml version="1.0"?><osm version="0.6">
<node id="1" lat="44.8" lon="-82.2" version="1"/><node id="2" lat="44.81" lon="-82.2" version="1"/>
<way id="9" version="1"><nd ref="1"/><nd ref="2"/><tag k="highway" v="residential"/><tag k="name" v="Quay"/>
<tag k="lanes:note" v="two"/></way></osm>"""


def test_keys_of_an_openstreetmap_extract_are_columns_when_the_programme_names_them(tmp_path):
    (tmp_path / "roads.osm").write_text(_OSM, encoding="utf-8")
    keys = {"columns": {"street": "name", "road_class": "lanes:note"}, "layer": "lines"}
    table = _read(tmp_path, "roads.osm", ["name", "lanes:note", "osm_id"], **keys)
    assert table.frame[["name", "lanes:note", "osm_id"]].to_numpy().tolist() == [["Quay", "two", "9"]]


def test_a_file_is_known_by_the_sum_of_its_bytes(tmp_path):
    (tmp_path / "a.csv").write_bytes(b"id\n1\n")
    assert fingerprint(tmp_path / "a.csv") == hashlib.sha256(b"id\n1\n").hexdigest()


def test_of_a_shapefile_and_a_folder_every_part_counts_in_the_order_of_names(tmp_path):
    for name, content in (("a.shp", b"1"), ("a.dbf", b"2"), ("b.shp", b"3")):
        (tmp_path / name).write_bytes(content)

    def of(*contents):
        return hashlib.sha256(b"".join(hashlib.sha256(one).digest() for one in contents)).hexdigest()

    assert fingerprint(tmp_path / "a.shp") == of(b"2", b"1")
    assert fingerprint(tmp_path / "b.shp") == hashlib.sha256(b"3").hexdigest()
    assert fingerprint(tmp_path) == of(b"2", b"1", b"3")
