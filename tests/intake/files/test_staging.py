"""What GDAL may open: the input, or a file in a folder apart where it would make files beside the input."""

import sqlite3
import zipfile
from contextlib import closing

import geopandas as gpd
import pyogrio
import pytest
import shapely

from pipeline.errors import InputError
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.staging import staged
from pipeline.programme.settings import Layer

_POINTS = gpd.GeoDataFrame({"id": ["a"]}, geometry=[shapely.Point(0, 0)], crs=4326)


def test_an_input_that_gdal_leaves_alone_is_read_where_it_lies(tmp_path):
    (tmp_path / "scratch").mkdir()
    for end in ("fgb", "shp", "gpkg", "geojson"):
        _POINTS.to_file(tmp_path / f"a.{end}")
        assert staged(tmp_path / f"a.{end}", "a", tmp_path / "scratch") == tmp_path / f"a.{end}"
    assert list((tmp_path / "scratch").iterdir()) == []


@pytest.mark.parametrize("end", ["gpkg", "geojson", "fgb", "shp", "kml"])
def test_what_is_in_an_archive_is_held_to_the_same_rules(tmp_path, end):
    link = "<OGRVRTDataSource><OGRVRTLayer name='x'/></OGRVRTDataSource>"
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr(f"in/a.{end}", link)
    with pytest.raises(InputError, match=r"^a\.zip: this is a link to other data, not data"):
        read_raw(Layer(path="a.zip"), tmp_path, "roads", None)


def test_a_file_in_an_archive_that_was_cut_short_is_refused(tmp_path):
    _POINTS.to_file(tmp_path / "a.gpkg")
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("a.gpkg", (tmp_path / "a.gpkg").read_bytes()[:-10])
    with pytest.raises(InputError, match=r"^a\.zip: the file is cut short"):
        read_raw(Layer(path="a.zip"), tmp_path, "roads", None)


def test_a_geodatabase_in_an_archive_is_read_as_the_folder_is(tmp_path):
    _POINTS.to_file(tmp_path / "a.gdb", driver="OpenFileGDB", layer="roads")
    with zipfile.ZipFile(tmp_path / "a.gdb.zip", "w") as archive:
        for file in (tmp_path / "a.gdb").iterdir():
            archive.write(file, f"a.gdb/{file.name}")
    before = {file.name: file.read_bytes() for file in (tmp_path / "a.gdb").iterdir()}
    for name in ("a.gdb", "a.gdb.zip"):
        assert read_raw(Layer(path=name), tmp_path, "roads", None).frame["id"].tolist() == ["a"]
    assert {file.name: file.read_bytes() for file in (tmp_path / "a.gdb").iterdir()} == before


def test_placemarks_in_an_archive_of_their_own_are_read(tmp_path):
    with zipfile.ZipFile(tmp_path / "a.kmz", "w") as archive:
        archive.writestr(
            "doc.kml",
            '<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>a</name>'
            "<Point><coordinates>1,2</coordinates></Point></Placemark></Document></kml>",
        )
    assert len(read_raw(Layer(path="a.kmz"), tmp_path, "roads", None).frame) == 1


def test_a_database_in_use_is_read_with_its_log_and_nothing_appears_beside_it(tmp_path):
    _POINTS.to_file(tmp_path / "a.gpkg")
    with closing(sqlite3.connect(tmp_path / "a.gpkg")) as database:
        database.execute("PRAGMA journal_mode = WAL")
        # they call functions of GDAL
        for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            database.execute(f"DROP TRIGGER {name}")
        database.execute("UPDATE a SET id = 'in the log'")
        database.commit()
        names = {file.name for file in tmp_path.iterdir()}
        table = read_raw(Layer(path="a.gpkg"), tmp_path, "roads", None)
        assert table.frame["id"].tolist() == ["in the log"]
        assert {file.name for file in tmp_path.iterdir()} == names


def test_what_gdal_once_learnt_of_a_gml_file_hides_no_column(tmp_path):
    _POINTS.to_file(tmp_path / "a.gml")
    (tmp_path / "a.xsd").unlink()
    pyogrio.read_info(tmp_path / "a.gml")
    learnt = (tmp_path / "a.gfs").read_text(encoding="utf-8")
    (tmp_path / "a.gfs").write_text(learnt.replace(">id<", ">other<"), encoding="utf-8")
    assert "id" in read_raw(Layer(path="a.gml"), tmp_path, "roads", None).frame
