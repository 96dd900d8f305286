"""Map layers as files: which layer, which columns, which rows, and the sum of what was read."""

import hashlib
import sqlite3
import warnings
import zipfile
from contextlib import closing

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely

from pipeline.errors import InputError, SettingsError
from pipeline.intake.files.layers import read_raw
from pipeline.programme.settings import Cores, Layer

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
        "roads.gpkg: roads.where = \"id = 'z'\" selects none of its 3 features. Correct the condition."
    )


def test_of_several_layers_one_has_to_be_named(roads):
    _FRAME.to_file(roads / "roads.gpkg", layer="lanes")
    with pytest.raises(
        InputError,
        match=r"the file has 2 layers \(roads with id, width, Name; lanes with id, width, Name\); expected one\. Give its",
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


def test_the_sum_is_that_of_what_was_read(roads):
    expected = hashlib.sha256((roads / "roads.gpkg").read_bytes()).hexdigest()
    assert _read(roads, "roads.gpkg").sha256 == expected
    (roads / "cores.csv").write_bytes(b"id\n1\n")
    table = read_raw(Cores(path="cores.csv"), roads, "cores", None)
    assert table.sha256 == hashlib.sha256(b"id\n1\n").hexdigest()


def test_a_file_that_is_replaced_while_it_is_read_is_refused(roads, monkeypatch):
    """The other file is read, or the first: either way the sum would be of the wrong one for some."""
    read = pyogrio.read_dataframe

    def read_slowly(*args, **keys):
        frame = read(*args, **keys)
        _FRAME.iloc[:1].to_file(roads / "other.gpkg", layer="roads")
        (roads / "other.gpkg").replace(roads / "roads.gpkg")
        return frame

    monkeypatch.setattr(pyogrio, "read_dataframe", read_slowly)
    with pytest.raises(InputError, match=r"^roads\.gpkg: the file changed while it was being read"):
        _read(roads, "roads.gpkg")


def test_a_condition_that_is_more_than_one_is_refused_before_the_file_is_opened(tmp_path):
    with pytest.raises(SettingsError, match=r"^roads\.where: found .*';' is not allowed in one\. Correct it\.$"):
        _read(tmp_path, "nowhere.gpkg", where=f"1 = 1; VACUUM INTO '{tmp_path / 'x'}'")
    assert list(tmp_path.iterdir()) == []


def test_messages_name_the_file_as_the_programme_does(tmp_path):
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "roads.geojson").write_text("not a map", encoding="utf-8")
    with pytest.raises(InputError) as error:
        _read(tmp_path, "deep/roads.geojson")
    assert str(tmp_path) not in str(error.value)


def test_a_warning_names_the_file_as_the_programme_does(roads, monkeypatch):
    def list_layers(path):
        warnings.warn(f"{path} and {path.parent / 'roads.idx'} are odd; use a keyword", RuntimeWarning, stacklevel=1)
        return [["roads", "LineString"]]

    monkeypatch.setattr(pyogrio, "list_layers", list_layers)
    assert _read(roads.parent, f"{roads.name}/roads.gpkg").notices == [
        f"{roads.name}/roads.gpkg: {roads.name}/roads.gpkg and {roads.name}/roads.gpkg are odd."
    ]


@pytest.mark.parametrize(
    "kind", ["TIN Z (((0 0 0,0 0 1,0 1 0,0 0 0)))", "TRIANGLE ((0 0,0 1,1 1,0 0))", "POLYGON ((0 0,1 1))"]
)
def test_a_geometry_that_cannot_be_built_counts_as_missing(tmp_path, kind):
    (tmp_path / "roads.csv").write_text(f'id,WKT\na,"{kind}"\nb,POINT M (1 2 3)\n', encoding="utf-8")
    assert shapely.is_missing(_read(tmp_path, "roads.csv").geometry).tolist() == [True, False]


@pytest.mark.parametrize("where", [None, "name <> 'B'"])
def test_a_column_with_the_name_of_the_feature_ids_is_read_like_any_other(tmp_path, where):
    features = ",".join(
        f'{{"type":"Feature","properties":{{"id":{number},"name":"{name}"}},'
        f'"geometry":{{"type":"LineString","coordinates":[[{number},0],[{number},1]]}}}}'
        for number, name in ((7, "A"), (5, "B"), (9, "C"))
    )
    (tmp_path / "roads.geojson").write_text(f'{{"type":"FeatureCollection","features":[{features}]}}', "utf-8")
    table = _read(tmp_path, "roads.geojson", where=where)
    kept = [0, 1, 2] if where is None else [0, 2]
    assert table.frame["id"].tolist() == [["7", "5", "9"][row] for row in kept]
    assert table.rows.tolist() == [row + 1 for row in kept]


def test_the_ids_of_features_are_a_column_where_the_programme_names_it(roads):
    assert _read(roads, "roads.gpkg", columns={"segment_id": "fid"}).frame["fid"].tolist() == ["1", "2", "3"]
    assert "fid" not in _read(roads, "roads.gpkg").frame


def test_text_of_a_layer_that_is_no_text_is_refused_with_its_column(roads):
    with closing(sqlite3.connect(roads / "roads.gpkg")) as database, database:
        # the triggers of the layer need functions that are not here
        for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            database.execute(f'DROP TRIGGER "{name}"')
        database.execute("UPDATE roads SET Name = CAST(x'44e9709474' AS TEXT) WHERE id = 'b'")
    with pytest.raises(InputError, match=r"^roads\.gpkg: column 'Name' is not UTF-8 text"):
        _read(roads, "roads.gpkg")
