"""Relations of a GeoPackage, held to the requirements of the standard's extension and read by GDAL.

Source: OGC 18-000, GeoPackage Related Tables Extension 1.0 (https://docs.ogc.org/is/18-000/18-000.html), requirements
1 to 11 (core), 16 and 17 (class "features"), 18 and 19 (class "attributes"). Read on 2026-11-27.
"""

import ctypes
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
import shapely

from pipeline.works import ListedWorks
from tests.publish.geopackage.sample import UTM, ask, write


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    """Six cores A to F in rows 1 to 6: findings about rows 6, 1, 1; works in an area with A and B, on a line with B."""
    found = pd.DataFrame(
        {
            "row": [6, 1, 1],
            "core_id": ["F", "A", "A"],
            "rule": ["open-too-long", "size-implausible", "road-uncertain"],
            "severity": ["note", "fail", "fail"],
            "urgency": ["record", "hazard", "overdue"],
        }
    )
    works = gpd.GeoDataFrame(
        {
            "works_id": ["W-1", "W-2"],
            "kind": ["planned", "protected"],
            "name": ["Quay renewal", None],
            "on": ["2026-11-03", None],
            "until": ["2026-11-20", "2029-05-01"],
            "cores": [2, 1],
        },
        geometry=[
            shapely.GeometryCollection([shapely.box(0, 0, 9, 9)]),
            shapely.GeometryCollection([shapely.LineString([(0, 0), (9, 0)])]),
        ],
        crs=UTM,
    )
    inside = pd.DataFrame({"works_id": ["W-1", "W-1", "W-2"], "row": [1, 2, 2], "core_id": ["A", "B", "B"]})
    path = tmp_path_factory.mktemp("related") / "cores.gpkg"
    return write(path, findings=found, works=ListedWorks(works, inside))


def test_requirements_1_to_3_the_extension_and_each_mapping_table_are_registered(package):
    rows = ask(package, "SELECT * FROM gpkg_extensions WHERE extension_name = 'gpkg_related_tables'")
    mapping = {name for (name,) in ask(package, "SELECT mapping_table_name FROM gpkgext_relations")}
    assert mapping == {"cores_findings", "works_cores", "works_lines_cores"}
    assert {table for table, *_ in rows} == {"gpkgext_relations", *mapping}
    assert {(column, scope) for _, column, _, _, scope in rows} == {(None, "read-write")}


def test_requirement_4_the_table_of_relations_is_defined_as_the_standard_has_it(package):
    columns = ask(package, "SELECT name, type, \"notnull\", pk FROM pragma_table_info('gpkgext_relations')")
    texts = ("base_table_name", "base_primary_column", "related_table_name", "related_primary_column", "relation_name")
    assert columns == [
        ("id", "INTEGER", 0, 1),
        *((name, "TEXT", 1, 0) for name in texts),
        ("mapping_table_name", "TEXT", 1, 0),
    ]


def test_requirements_5_to_7_the_tables_are_there_and_the_related_ones_among_the_contents(package):
    contents = dict(ask(package, "SELECT table_name, data_type FROM gpkg_contents"))
    tables = {name for (name,) in ask(package, "SELECT name FROM sqlite_master WHERE type = 'table'")}
    rows = ask(package, "SELECT base_table_name, related_table_name, mapping_table_name FROM gpkgext_relations")
    for base, related, mapping in rows:
        assert {base, related} <= set(contents)
        assert mapping in tables


def test_requirements_8_and_16_to_19_a_relation_is_named_for_the_class_that_its_related_table_meets(package):
    contents = dict(ask(package, "SELECT table_name, data_type FROM gpkg_contents"))
    named = dict(ask(package, "SELECT mapping_table_name, relation_name FROM gpkgext_relations"))
    assert named == {"cores_findings": "attributes", "works_cores": "features", "works_lines_cores": "features"}
    for name, related in ask(package, "SELECT relation_name, related_table_name FROM gpkgext_relations"):
        assert contents[related] == name


def test_requirements_9_to_11_the_pairs_name_rows_that_are_there(package):
    question = (
        "SELECT base_table_name, base_primary_column, related_table_name, related_primary_column, mapping_table_name "
        "FROM gpkgext_relations"
    )
    for base, base_key, related, related_key, mapping in ask(package, question):
        columns = ask(package, 'SELECT name, type, "notnull", pk FROM pragma_table_info(?)', mapping)
        assert {("base_id", "INTEGER", 1, 0), ("related_id", "INTEGER", 1, 0)} <= set(columns)
        for table, key, column in ((base, base_key, "base_id"), (related, related_key, "related_id")):
            assert (key, 1) in ask(package, "SELECT name, pk FROM pragma_table_info(?)", table)
            absent = f"SELECT {column} FROM {mapping} WHERE {column} NOT IN (SELECT {key} FROM {table})"
            assert ask(package, absent) == []


def test_gdal_joins_each_finding_to_its_core_and_each_core_to_its_works(package):
    found = pyogrio.read_dataframe(
        package,
        sql="SELECT c.core_id, f.rule FROM cores c JOIN cores_findings m ON m.base_id = c.fid "
        "JOIN findings f ON f.fid = m.related_id ORDER BY f.rule",
    )
    assert found[["core_id", "rule"]].to_numpy().tolist() == [
        ["F", "open-too-long"], ["A", "road-uncertain"], ["A", "size-implausible"],
    ]  # fmt: skip
    for table, expected in (("works", [["W-1", "A"], ["W-1", "B"]]), ("works_lines", [["W-2", "B"]])):
        inside = pyogrio.read_dataframe(
            package,
            sql=f"SELECT w.works_id, c.core_id FROM {table} w JOIN {table}_cores m ON m.base_id = w.fid "
            "JOIN cores c ON c.fid = m.related_id ORDER BY c.core_id",
        )
        assert inside[["works_id", "core_id"]].to_numpy().tolist() == expected


def _gdal():
    """Return the GDAL that pyogrio ships with, whose C interface also lists relationships (GDAL 3.6 and later)."""
    libraries = sorted(Path(pyogrio.__file__).parent.with_name("pyogrio.libs").glob("libgdal*"))
    if not libraries:
        pytest.skip("pyogrio has no GDAL of its own here")
    return ctypes.CDLL(str(libraries[0]))


def test_gdal_lists_the_relations(package):
    gdal = _gdal()
    gdal.GDALOpenEx.restype = gdal.GDALDatasetGetRelationshipNames.restype = ctypes.c_void_p
    gdal.GDALDatasetGetRelationship.restype = ctypes.c_void_p
    gdal.GDALAllRegister()
    dataset = gdal.GDALOpenEx(str(package).encode(), 4, None, None, None)
    listed = ctypes.cast(
        gdal.GDALDatasetGetRelationshipNames(ctypes.c_void_p(dataset), None), ctypes.POINTER(ctypes.c_char_p)
    )
    names = []
    while listed[len(names)]:
        names.append(listed[len(names)])
    ends = []
    for name in names:
        relation = gdal.GDALDatasetGetRelationship(ctypes.c_void_p(dataset), name)
        parts = []
        for side in ("Left", "Right", "Mapping"):
            ask_name = getattr(gdal, f"GDALRelationshipGet{side}TableName")
            ask_name.restype = ctypes.c_char_p
            parts.append(ask_name(ctypes.c_void_p(relation)).decode())
        ends.append(tuple(parts))
    gdal.GDALClose(ctypes.c_void_p(dataset))
    assert sorted(ends) == [
        ("cores", "findings", "cores_findings"),
        ("works", "cores", "works_cores"),
        ("works_lines", "cores", "works_lines_cores"),
    ]


def test_gdal_reads_dates_as_dates(package):
    kinds = dict(zip(*(pyogrio.read_info(package, layer="works")[key] for key in ("fields", "dtypes")), strict=True))
    assert (kinds["on"], kinds["until"]) == ("datetime64[D]", "datetime64[D]")
    assert dict(ask(package, "SELECT name, type FROM pragma_table_info('cores')"))["opened_on"] == "DATE"
