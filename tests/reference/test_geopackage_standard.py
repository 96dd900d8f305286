"""The GeoPackage against the OGC's own tests, and its styles against the OGC's schemas.

Sources: GeoPackage Encoding Standard 1.3 (OGC 12-128r17), annex F.9 "Schema": requirements 103 to 114 and 141 and the
abstract tests below them, as the standard's repository opengeospatial/geopackage has them in extension_schema.adoc;
base requirements (1.1.1 to 1.1.3) from memory. Symbology Encoding 1.1.0 (OGC 05-077r4): FeatureStyle.xsd as published,
Symbolizer.xsd as quoted in programs made from it, filter 1.1.0 and StyledLayerDescriptor.xsd 1.1.0 from memory.
"""

import sqlite3
import xml.etree.ElementTree as ET
from contextlib import closing

import pytest


@pytest.fixture(scope="module")
def database(demo):
    """The GeoPackage of the demo, opened by SQLite alone."""
    with closing(sqlite3.connect(f"file:{demo.folder / 'cores.gpkg'}?mode=ro", uri=True)) as connection:
        yield connection


def _defined(database, table):
    """Return name, type and whether null is refused, for every column."""
    rows = database.execute('SELECT name, type, "notnull", pk FROM pragma_table_info(?)', (table,))
    return {name: (kind, bool(full or key)) for name, kind, full, key in rows}


def test_it_is_a_geopackage_of_version_1_3(database):
    # requirement 2: "GPKG" in ASCII, and the version
    assert database.execute("PRAGMA application_id").fetchone()[0] == 0x47504B47
    assert database.execute("PRAGMA user_version").fetchone()[0] == 10300
    # requirements 6 and 7
    assert database.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    assert database.execute("PRAGMA foreign_key_check").fetchall() == []


def test_req_103_and_107_the_tables_are_defined_as_the_standard_defines_them(database):
    text, number, truth = "TEXT", "NUMERIC", "BOOLEAN"
    assert _defined(database, "gpkg_data_columns") == {
        "table_name": (text, True), "column_name": (text, True), "name": (text, False), "title": (text, False),
        "description": (text, False), "mime_type": (text, False), "constraint_name": (text, False),
    }  # fmt: skip
    assert _defined(database, "gpkg_data_column_constraints") == {
        "constraint_name": (text, True), "constraint_type": (text, True), "value": (text, False),
        "min": (number, False), "min_is_inclusive": (truth, False), "max": (number, False),
        "max_is_inclusive": (truth, False), "description": (text, False),
    }  # fmt: skip


def test_req_141_the_extension_is_registered_in_two_rows(database):
    rows = database.execute(
        "SELECT table_name, column_name, scope FROM gpkg_extensions WHERE extension_name = 'gpkg_schema'"
    ).fetchall()
    assert sorted(rows) == [
        ("gpkg_data_column_constraints", None, "read-write"),
        ("gpkg_data_columns", None, "read-write"),
    ]


def test_req_104_and_105_every_description_is_of_a_table_and_column_that_exist(database):
    tables = {name for (name,) in database.execute("SELECT table_name FROM gpkg_contents")}
    described = database.execute("SELECT table_name, column_name FROM gpkg_data_columns").fetchall()
    assert described
    for table, column in described:
        assert table in tables
        assert column in _defined(database, table)


def test_req_106_every_constraint_that_a_column_names_exists_in_lower_case(database):
    there = {name for (name,) in database.execute("SELECT constraint_name FROM gpkg_data_column_constraints")}
    named = {
        name
        for (name,) in database.execute(
            "SELECT constraint_name FROM gpkg_data_columns WHERE constraint_name IS NOT NULL"
        )
    }
    assert named == there
    assert all(name == name.lower() for name in named)


def test_req_108_to_114_constraints_are_lists_of_values_and_nothing_else(database):
    rows = database.execute(
        "SELECT constraint_type, value, min, min_is_inclusive, max, max_is_inclusive FROM gpkg_data_column_constraints"
    ).fetchall()
    assert rows
    for kind, value, *limits in rows:
        assert kind == "enum"
        assert value is not None
        assert limits == [None] * 4


# the order in which the children of an element may come
SE_CHILDREN = {
    "NamedLayer": ["Name", "Description", "LayerFeatureConstraints", "NamedStyle", "UserStyle"],
    "UserStyle": ["Name", "Description", "IsDefault", "FeatureTypeStyle"],
    "FeatureTypeStyle": ["Name", "Description", "FeatureTypeName", "SemanticTypeIdentifier", "Rule"],
    "Rule": [
        "Name", "Description", "LegendGraphic", "Filter", "ElseFilter", "MinScaleDenominator", "MaxScaleDenominator",
        ("PointSymbolizer", "LineSymbolizer", "PolygonSymbolizer", "TextSymbolizer"),
    ],
    "PointSymbolizer": ["Geometry", "Graphic"],
    "LineSymbolizer": ["Geometry", "Stroke", "PerpendicularOffset"],
    "PolygonSymbolizer": ["Geometry", "Fill", "Stroke", "Displacement", "PerpendicularOffset"],
    "TextSymbolizer": ["Geometry", "Label", "Font", "LabelPlacement", "Halo", "Fill"],
    "Graphic": [("ExternalGraphic", "Mark"), "Opacity", "Size", "Rotation", "AnchorPoint", "Displacement"],
    "Mark": ["WellKnownName", "Fill", "Stroke"],
    "Halo": ["Radius", "Fill"],
    "LabelPlacement": [("PointPlacement", "LinePlacement")],
    "PointPlacement": ["AnchorPoint", "Displacement", "Rotation"],
    "LinePlacement": ["PerpendicularOffset", "IsRepeated", "InitialGap", "Gap", "IsAligned", "GeneralizeLine"],
    "AnchorPoint": ["AnchorPointX", "AnchorPointY"],
    "Displacement": ["DisplacementX", "DisplacementY"],
    "Fill": ["GraphicFill", "SvgParameter"],
    "Stroke": ["GraphicFill", "GraphicStroke", "SvgParameter"],
    "Font": ["SvgParameter"],
    "Label": ["PropertyName"],
    "Filter": [("And", "Or", "Not", "PropertyIsEqualTo", "PropertyIsGreaterThan")],
    "And": [("And", "Or", "Not", "PropertyIsEqualTo", "PropertyIsGreaterThan")],
    "Or": [("PropertyIsEqualTo", "PropertyIsLike", "PropertyIsGreaterThan")],
    "Not": [("Or", "PropertyIsEqualTo", "PropertyIsGreaterThan")],
    "PropertyIsGreaterThan": ["PropertyName", "Literal"],
    "PropertyIsEqualTo": ["PropertyName", "Literal"],
    "PropertyIsLike": ["PropertyName", "Literal"],
    "StyledLayerDescriptor": ["NamedLayer"],
}  # fmt: skip
SPACES = {
    "sld": "http://www.opengis.net/sld",
    "se": "http://www.opengis.net/se",
    "ogc": "http://www.opengis.net/ogc",
}
OF_SLD = {"StyledLayerDescriptor", "NamedLayer", "UserStyle"}
OF_OGC = {
    "Filter",
    "And",
    "Or",
    "Not",
    "PropertyIsEqualTo",
    "PropertyIsGreaterThan",
    "PropertyIsLike",
    "PropertyName",
    "Literal",
}
# Symbology Encoding 1.1.0, clause 11.2.2 and 11.1.3
WELL_KNOWN = {"square", "circle", "triangle", "star", "cross", "x"}
SVG_PARAMETERS = {"fill", "fill-opacity", "stroke", "stroke-width", "stroke-opacity", "stroke-linejoin", "stroke-linecap",
                  "stroke-dasharray", "stroke-dashoffset", "font-family", "font-style", "font-weight", "font-size"}  # fmt: skip


def _named(element):
    space, name = element.tag[1:].split("}")
    return space, name


@pytest.mark.parametrize("layer", ["cores", "segments", "districts"])
def test_every_element_of_a_style_comes_where_the_schema_puts_it(database, layer):
    (text,) = database.execute("SELECT styleSLD FROM layer_styles WHERE f_table_name = ?", (layer,)).fetchone()
    root = ET.fromstring(text)
    assert root.get("version") == "1.1.0"
    seen = 0
    for parent in root.iter():
        space, name = _named(parent)
        assert space == SPACES["sld" if name in OF_SLD else "ogc" if name in OF_OGC else "se"], name
        allowed = {}
        for place, child in enumerate(SE_CHILDREN.get(name, [])):
            allowed |= dict.fromkeys([child] if isinstance(child, str) else child, place)
        children = [_named(child)[1] for child in parent]
        places = [allowed[child] for child in children]
        assert places == sorted(places), (name, children)
        if name in {"Name", "Graphic", "Label", "Filter", "UserStyle"}:
            assert children.count("Name") <= 1
        if name == "SvgParameter":
            assert parent.get("name") in SVG_PARAMETERS
        if name == "WellKnownName":
            assert parent.text in WELL_KNOWN
        if name == "Rule":
            assert any(child.endswith("Symbolizer") for child in children)
        seen += 1
    assert seen > 10


def test_every_layer_has_one_default_style(database):
    rows = database.execute(
        "SELECT f_table_name, f_geometry_column, styleQML, styleSLD FROM layer_styles WHERE useAsDefault"
    ).fetchall()
    geometries = dict(database.execute("SELECT table_name, column_name FROM gpkg_geometry_columns"))
    tables = {name for (name,) in database.execute("SELECT table_name FROM gpkg_contents")} - {"layer_styles"}
    # a table that only says which rows belong together is shown by none
    tables -= {name for (name,) in database.execute("SELECT mapping_table_name FROM gpkgext_relations")}
    assert sorted(name for name, *_ in rows) == sorted(tables)
    for name, geometry, qml, sld in rows:
        assert geometry == geometries.get(name, "")
        assert ET.fromstring(qml).tag == "qgis"
        assert (sld is not None) == (name in geometries)
