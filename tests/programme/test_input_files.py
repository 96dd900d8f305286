"""The input files of a programme: their names and keys."""

import pytest
from pydantic import ValidationError

from pipeline.programme.input_files import Cores, MapLayer


@pytest.mark.parametrize(
    ("path", "name"), [("cores.csv", "cores"), ("2026/*.csv", "2026"), ("*.csv", "cores"), ("a/b/c.xlsx", "c")]
)
def test_a_register_without_a_name_has_that_of_its_file_or_folder(path, name):
    assert Cores(path=path).register_name == name


def test_an_empty_path_is_refused():
    with pytest.raises(ValidationError, match="at least 1 character"):
        Cores(path="")


def test_sheets_are_a_name_a_list_or_a_pattern_and_are_kept_as_they_were_written():
    for layer in (None, "Jan", "2026-*", ["Jan", "Feb"]):
        assert Cores(path="a.xlsx", layer=layer).model_dump()["layer"] == layer
    for wrong in ([], [""], 3, [1, 2]):
        with pytest.raises(ValidationError, match="expected the name of a sheet or layer, a list of names"):
            Cores(path="a.xlsx", layer=wrong)
    with pytest.raises(ValidationError, match="found 'Jan' twice"):
        Cores(path="a.xlsx", layer=["Jan", "Feb", "Jan"])
    with pytest.raises(ValidationError, match="valid string"):
        MapLayer(path="a.gpkg", layer=["a", "b"])


_ADDRESS = "postgresql://db.city.example/gis"


def test_a_register_of_a_database_has_the_name_of_its_table():
    assert Cores(path=_ADDRESS, table='gis."North.Cores"').register_name == "North.Cores"
    assert Cores(path=_ADDRESS, table="gis.cores", name="North").register_name == "North"
    assert Cores(path="postgresql:///?service=town", sql="SELECT 1").register_name == "cores"
    assert not Cores(path="postgresql:///?service=town", sql="SELECT 1").is_pattern


def test_an_input_is_called_by_its_path_or_by_address_and_table():
    assert Cores(path="a/cores.csv").label("cores") == "a/cores.csv"
    assert (
        MapLayer(path=f"{_ADDRESS}?sslmode=require", table="gis.roads").label("roads") == f"{_ADDRESS}, table gis.roads"
    )
    assert MapLayer(path=_ADDRESS, sql="SELECT 1").label("roads") == f"{_ADDRESS}, sql of roads"
    assert Cores(path=_ADDRESS, sql="SELECT 1", name="North").label("cores") == f"{_ADDRESS}, sql of North"


def test_a_file_is_written_without_the_keys_of_databases_and_a_database_with_them():
    assert "table" not in Cores(path="a.csv").model_dump()
    assert MapLayer(path=_ADDRESS, table="a", key="gid").model_dump(exclude_defaults=True) == {
        "path": _ADDRESS, "table": "a", "key": "gid",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"path": _ADDRESS}, "found a database without table or sql, expected one of"),
        ({"path": _ADDRESS, "table": "a", "sql": "SELECT 1"}, "found both table and sql, expected one of"),
        ({"path": "a.csv", "table": "a"}, "found table, which is for databases"),
        ({"path": "a.csv", "sql": "SELECT 1"}, "found sql, which is for databases"),
        ({"path": "a.csv", "key": "gid"}, "found key, which is for databases"),
        ({"path": _ADDRESS, "table": "a", "layer": "b"}, "found layer, which is for files"),
        ({"path": _ADDRESS, "table": "a", "encoding": "cp1252"}, "found encoding, which is for files"),
        ({"path": _ADDRESS, "table": "a", "header_row": 2}, "found header_row, which is for files"),
        ({"path": _ADDRESS, "sql": "SELECT 1", "where": "a = 1"}, "found where together with sql"),
        ({"path": _ADDRESS, "table": "a.b.c"}, "found 'a.b.c', expected the name of a table"),
        ({"path": _ADDRESS, "table": ""}, "found '', expected the name of a table"),
        ({"path": _ADDRESS, "table": 'a"b'}, "expected the name of a table"),
        ({"path": _ADDRESS, "sql": "SELECT * FROM dblink('password=geheim')"}, "found a password or an address in sql"),
        (
            {"path": _ADDRESS, "sql": "SELECT * FROM dblink('postgres://a:geheim@b/c')"},
            "found a password or an address",
        ),
    ],
)
def test_keys_that_do_not_go_together_are_refused(keys, said):
    with pytest.raises(ValidationError) as error:
        Cores(**keys)
    # as the programme's errors show it: without what was written
    (wrong,) = error.value.errors()
    assert said in wrong["msg"]
    assert "geheim" not in wrong["msg"]
