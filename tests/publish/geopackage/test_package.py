"""The GeoPackage: its layers, and the styles and descriptions that they open with."""

import sqlite3
import xml.etree.ElementTree as ET
from contextlib import closing

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from pyproj import CRS

from pipeline.contracts import CORE_COLUMNS, LOCATED_COLUMNS, QUANTIFIED_COLUMNS, REGISTER_COLUMNS, SPECIFIED_COLUMNS
from pipeline.publish.geopackage.columns import tell_columns
from pipeline.publish.geopackage.package import GeoPackage, write_geopackage
from pipeline.publish.tables import core_table

UTM = CRS.from_epsg(32617)
NASTY = """x"'); DROP TABLE cores; --]]></qgis><img src=x>&{{ 7 }}"""
# status and findings of six cores, and how each is drawn
CORES = [
    ("flagged", "size-implausible", "flagged"),
    ("flagged", "road-uncertain;size-implausible", "flagged, hollow"),
    ("pending", "", "pending"),
    ("pending", "cores-overlap;surface-uncertain", "pending, hollow"),
    ("reinstated", None, "reinstated"),
    ("reinstated", "district-uncertain", "reinstated, hollow"),
]
DRAWN = [drawn for _, _, drawn in CORES]


def _table(own=None):
    frame = pd.DataFrame({name: [1.0] * 6 for name in CORE_COLUMNS})
    frame = frame.assign(
        row=range(1, 7),
        core_id=list("ABCDEF"),
        status=[status for status, _, _ in CORES],
        findings=pd.Series([findings for _, findings, _ in CORES], dtype="str"),
        side=["left", "right", None, "left", "left", "left"],
        surface_from=["polygon", "segment", "register", "none", "none", "none"],
        street_matched="Quay",
    )
    return core_table(frame, pd.DataFrame(own or {}, index=frame.index))


def _write(path, table=None, *, districts=("A",), findings=True, orders=True, **told):
    table = _table() if table is None else table
    places = pd.DataFrame({"x_m": [405000.0] * 5 + [np.nan], "y_m": [4961000.0] * 5 + [np.nan]})
    segments = gpd.GeoDataFrame(
        {"segment_id": ["S2", "S1"], "street": ["Quay", NASTY], "cores_flagged": [1, 1]},
        geometry=[shapely.LineString([(0, 0), (1, 1)])] * 2,
        crs=UTM,
    )
    outlines = gpd.GeoDataFrame(
        {"district": list(districts), "cores_flagged": 2, "cores_pending": 3, "cores_reinstated": 4},
        geometry=[shapely.box(0, 0, 1, 1)] * len(districts),
        crs=UTM,
    )
    found = pd.DataFrame(
        {
            "row": [1],
            "core_id": ["A"],
            "rule": ["size-implausible"],
            "severity": ["fail"],
            "message": [NASTY],
            "evidence": [""],
        }
    )
    lines = pd.DataFrame({"district": ["A"], "period": ["2026-W40"], "item": ["water"], "needed": [1.0]})
    content = GeoPackage(
        table, places, segments, outlines if districts else None, UTM, found if findings else None,
        lines if orders else None, **told,
    )  # fmt: skip
    write_geopackage(content, path)
    return path


def _ask(path, question, *answers):
    with closing(sqlite3.connect(path)) as database:
        # the one function of QGIS's expressions in our filters that SQLite calls by another name
        database.create_function("strpos", 2, lambda text, part: text.find(part) + 1)
        return database.execute(question, answers).fetchall()


def _qml(path, layer):
    ((text,),) = _ask(path, "SELECT styleQML FROM layer_styles WHERE f_table_name = ?", layer)
    return ET.fromstring(text)


def _sld(path, layer):
    ((text,),) = _ask(path, "SELECT styleSLD FROM layer_styles WHERE f_table_name = ?", layer)
    return ET.fromstring(text)


def test_it_has_its_layers_and_the_cores_without_a_place(tmp_path):
    path = _write(tmp_path / "a.gpkg", _table({"fid": ["9"] * 6, "geom": ["x"] * 6}))
    # those on top first
    assert [name for name, _ in pyogrio.list_layers(path)][:3] == ["cores", "segments", "districts"]
    assert {name for name, _ in pyogrio.list_layers(path)} >= {"findings", "orders"}
    cores = gpd.read_file(path, layer="cores")
    assert cores.crs == UTM
    assert cores.geometry.isna().tolist() == [False] * 5 + [True]
    assert cores["core_id"].tolist() == list("ABCDEF")


def test_the_same_inputs_give_the_same_bytes_wherever_it_is_written(tmp_path):
    (tmp_path / "elsewhere").mkdir()
    one, other = _write(tmp_path / "a.gpkg"), _write(tmp_path / "elsewhere" / "b.gpkg")
    assert one.read_bytes() == other.read_bytes()


def test_every_core_is_drawn_by_one_rule_hollow_where_its_street_surface_or_district_is_unsure(tmp_path):
    path = _write(tmp_path / "a.gpkg")
    rules = _qml(path, "cores").findall("renderer-v2/rules/rule")
    drawn = dict.fromkeys("ABCDEF", "")
    symbols = {symbol.get("name"): symbol for symbol in _qml(path, "cores").findall("renderer-v2/symbols/symbol")}
    for rule in rules:
        symbol = symbols[rule.get("symbol")]
        # halo, shape, and the white middle of a hollow one
        is_hollow = len(symbol.findall("layer")) == 3
        # QGIS's expressions are SQL; a core that two rules drew would come out twice
        for (core,) in _ask(path, f"SELECT core_id FROM cores WHERE {rule.get('filter')}"):
            drawn[core] += rule.get("key").removesuffix("-unsure") + (", hollow" if is_hollow else "")
    assert list(drawn.values()) == DRAWN


def _holds(condition, core):
    """Judge an OGC filter."""
    kind = condition.tag.split("}")[1]
    if kind == "And":
        return all(_holds(part, core) for part in condition)
    if kind == "Or":
        return any(_holds(part, core) for part in condition)
    if kind == "Not":
        return not _holds(condition[0], core)
    value, literal = core[condition[0].text] or "", condition[1].text
    if kind == "PropertyIsEqualTo":
        return value == literal
    assert condition.attrib == {"wildCard": "*", "singleChar": "?", "escapeChar": "\\"}
    assert literal[0] == literal[-1] == "*"
    return literal[1:-1] in value


def test_the_standard_style_draws_the_same_cores_hollow(tmp_path):
    se, ogc = "{http://www.opengis.net/se}", "{http://www.opengis.net/ogc}"
    rules = [
        rule
        for rule in _sld(_write(tmp_path / "a.gpkg"), "cores").iter(f"{se}Rule")
        if rule.find(f"{ogc}Filter") is not None
    ]
    drawn = []
    for status, findings, _ in CORES:
        core = {"status": status, "findings": findings}
        (rule,) = [rule for rule in rules if _holds(rule.find(f"{ogc}Filter")[0], core)]
        is_hollow = len(rule.findall(f"{se}PointSymbolizer")) == 3
        drawn.append(rule.find(f"{se}Name").text.split(",")[0].lower() + (", hollow" if is_hollow else ""))
    assert drawn == DRAWN


def test_shapes_and_colours_are_those_of_the_map(tmp_path):
    # as the map's script dom.js draws them
    path = _write(tmp_path / "a.gpkg")
    shapes = {"flagged": ("triangle", "#b1123f"), "pending": ("square", "#ffe07a"), "reinstated": ("circle", "#3aa7a0")}
    qml = _qml(path, "cores")
    symbols = {symbol.get("name"): symbol for symbol in qml.findall("renderer-v2/symbols/symbol")}
    for rule in qml.findall("renderer-v2/rules/rule"):
        shape, colour = shapes[rule.get("key").removesuffix("-unsure")]
        halo, body, *_ = [
            {option.get("name"): option.get("value") for option in layer.iter("Option")}
            for layer in symbols[rule.get("symbol")].findall("layer")
        ]
        assert (halo["name"], body["name"]) == (shape, shape)
        assert halo["outline_color"] == "255,255,255,255"
        assert float(halo["outline_width"]) > float(body["outline_width"])
        assert "#" + "".join(f"{int(part):02x}" for part in body["color"].split(",")[:3]) == colour
        assert body["outline_color"] == "34,34,34,255"
    se = "{http://www.opengis.net/se}"
    marks = [
        (mark.find(f"{se}WellKnownName").text, mark.find(f"{se}Fill/{se}SvgParameter").text)
        for mark in _sld(path, "cores").iter(f"{se}Mark")
    ]
    assert set(marks) == {*shapes.values(), *((shape, "#ffffff") for shape, _ in shapes.values())}


def test_what_needs_attention_lies_on_top(tmp_path):
    path = _write(tmp_path / "a.gpkg")
    (order,) = _qml(path, "cores").findall("renderer-v2/orderby/orderByClause")
    assert _qml(path, "cores").find("renderer-v2").get("enableorderby") == "1"
    last = _ask(path, f"SELECT status FROM cores ORDER BY {order.text}")
    assert [status for (status,) in last] == ["reinstated"] * 2 + ["pending"] * 2 + ["flagged"] * 2
    # a later style of the standard lies on an earlier one
    se = "{http://www.opengis.net/se}"
    names = [style.find(f"{se}Rule/{se}Name").text for style in _sld(path, "cores").iter(f"{se}FeatureTypeStyle")]
    assert names == ["Reinstated", "Pending", "Flagged", "Id"]


def test_a_district_is_labelled_with_its_name_and_counts(tmp_path):
    path = _write(tmp_path / "a.gpkg", districts=("O'Neill's \"<Quay>\" & Co.",))
    text = _qml(path, "districts").find("labeling/settings/text-style").get("fieldName")
    ((label,),) = _ask(path, f"SELECT {text} FROM districts")
    assert label == "O'Neill's \"<Quay>\" & Co.\\n2 flagged, 3 pending, 4 reinstated"
    assert "".join(_sld(path, "districts").find(".//{http://www.opengis.net/se}Label").itertext()) == (
        "district: cores_flagged flagged, cores_pending pending, cores_reinstated reinstated"
    )


def test_ids_are_written_close_in_only(tmp_path):
    rendering = _qml(_write(tmp_path / "a.gpkg"), "cores").find("labeling/settings/rendering")
    assert (rendering.get("scaleVisibility"), rendering.get("scaleMax")) == ("1", "2500")
    se = "{http://www.opengis.net/se}"
    denominators = [one.text for one in _sld(tmp_path / "a.gpkg", "cores").iter(f"{se}MaxScaleDenominator")]
    assert denominators == ["2500"]


def test_titles_and_lists_of_values_are_those_of_the_schema_extension(tmp_path):
    path = _write(tmp_path / "a.gpkg")
    for layer in ("cores", "segments", "districts", "findings", "orders"):
        aliases = {alias.get("field"): alias.get("name") for alias in _qml(path, layer).findall("aliases/alias")}
        question = "SELECT column_name, title FROM gpkg_data_columns WHERE table_name = ? AND title IS NOT NULL"
        assert aliases == dict(_ask(path, question, layer))
        columns = [name for (name,) in _ask(path, "SELECT name FROM pragma_table_info(?)", layer) if name != "geom"]
        for alias in _qml(path, layer).findall("aliases/alias"):
            assert columns[int(alias.get("index"))] == alias.get("field")
        for field in _qml(path, layer).findall("fieldConfiguration/field"):
            options = [option for option in field.iter("Option") if option.get("value") is not None]
            question = (
                "SELECT value, c.description FROM gpkg_data_columns JOIN gpkg_data_column_constraints c "
                "USING (constraint_name) WHERE table_name = ? AND column_name = ? AND constraint_type = 'enum' ORDER BY c.rowid"
            )
            listed = _ask(path, question, layer, field.get("name"))
            assert [(option.get("value"), option.get("name")) for option in options] == listed
            # no value of the column is missing from its list
            used = _ask(path, f'SELECT DISTINCT "{field.get("name")}" FROM {layer}')
            assert {value for (value,) in used} - {None} <= {value for value, _ in listed}
    named = _ask(path, "SELECT table_name, column_name FROM gpkg_data_columns WHERE constraint_name IS NOT NULL")
    assert set(named) == {("cores", "status"), ("cores", "side"), ("cores", "surface_from"), ("findings", "severity")}


def test_every_column_of_the_contract_is_described_and_a_registers_own_keeps_its_name(tmp_path):
    path = _write(tmp_path / "a.gpkg", _table({"Status": ["x"] * 6, "Dia. (in)": ["18"] * 6}))
    rows = _ask(path, "SELECT column_name, title, description FROM gpkg_data_columns WHERE table_name = 'cores'")
    described = {name: (title, meaning) for name, title, meaning in rows}
    assert set(described) == {*CORE_COLUMNS, "register_Status", "Dia. (in)"}
    assert all(title and meaning for name, (title, meaning) in described.items() if name in CORE_COLUMNS)
    assert described["diameter_mm"] == (
        "Diameter (mm)",
        "Diameter, of the hole as it was cut or of the core, as the programme says",
    )
    assert described["chainage_m"] == ("Chainage (m)", "Distance along the segment from its start")
    assert described["Dia. (in)"][0] is None


def test_columns_of_every_stage_have_titles_that_differ():
    every = [*REGISTER_COLUMNS, *LOCATED_COLUMNS, *SPECIFIED_COLUMNS, *QUANTIFIED_COLUMNS]
    numbers = {column.name: [1.0 if column.kind == "number" else "x"] for column in every}
    frame = pd.DataFrame(numbers | {name: [1.0] for name in CORE_COLUMNS})
    told = tell_columns("cores", frame)
    titles = [one.title for one in told.values()]
    assert sorted(set(titles)) == sorted(titles)
    assert all(one.meaning for one in told.values())
    assert told["position_accuracy_m"].title == "Position accuracy (m)"
    assert told["air_temperature_c"].title == "Air temperature (°C)"


def test_a_registers_own_column_of_a_contracts_name_is_not_taken_for_it():
    told = tell_columns("cores", pd.DataFrame({"bedding_mm": ["1 in"], "nearest_m": ["3"], "road_class": ["B"]}))
    assert told == {}
    assert list(tell_columns("cores", pd.DataFrame({"bedding_mm": [25.4]}))) == ["bedding_mm"]


@pytest.mark.parametrize(
    ("columns", "rules", "hollow", "is_labelled"),
    [
        (["core_id", "status", "findings", "street"], 6, 3, True),
        (["core_id", "status"], 3, 0, True),
        (["row", "findings"], 1, 0, False),
    ],
)
def test_a_table_of_few_columns_is_styled_by_what_it_has(tmp_path, columns, rules, hollow, is_labelled):
    path = _write(tmp_path / "a.gpkg", _table()[columns], districts=(), findings=False, orders=False)
    assert {name for name, _ in pyogrio.list_layers(path)} == {"cores", "segments", "layer_styles"}
    qml = _qml(path, "cores")
    assert len(qml.findall("renderer-v2/rules/rule")) == rules
    assert [len(symbol.findall("layer")) for symbol in qml.findall("renderer-v2/symbols/symbol")].count(3) == hollow
    assert (qml.get("labelsEnabled") == "1") == is_labelled == (qml.find("labeling") is not None)
    assert [alias.get("field") for alias in qml.findall("aliases/alias")] == columns
    named = {element.text for element in _sld(path, "cores").iter("{http://www.opengis.net/ogc}PropertyName")}
    assert named <= set(columns)
    for rule in qml.findall("renderer-v2/rules/rule"):
        _ask(path, f"SELECT 1 FROM cores WHERE {rule.get('filter') or 1}")


def test_hostile_text_stays_text(tmp_path):
    path = _write(tmp_path / "a.gpkg", _table({NASTY: [NASTY] * 6}), districts=(NASTY, "B"), title=NASTY)
    cores = gpd.read_file(path, layer="cores")
    assert cores[NASTY].tolist() == [NASTY] * 6
    assert gpd.read_file(path, layer="districts")["district"].tolist() == [NASTY, "B"]
    ((description,),) = _ask(path, "SELECT description FROM gpkg_contents WHERE table_name = 'cores'")
    assert NASTY in description
    ((told,),) = _ask(path, "SELECT description FROM gpkg_data_columns WHERE column_name = ?", NASTY)
    assert told == "The register's own column, as it was read"
    for layer in ("cores", "segments", "districts"):
        # none of it is in a style at all
        assert "img" not in ET.tostring(_qml(path, layer), "unicode") + ET.tostring(_sld(path, layer), "unicode")


def test_a_layer_says_what_it_is_and_which_run_it_is_of(tmp_path):
    path = _write(tmp_path / "a.gpkg", title="Harbour Vale 2026", as_of=pd.Timestamp("2026-09-30").date())
    told = dict(_ask(path, "SELECT identifier, description FROM gpkg_contents"))
    assert told["Road segments"] == (
        "Road segments: centrelines, with the number of their cores by status. Harbour Vale 2026. As of 2026-09-30."
    )
    assert {"Cores", "Districts", "Findings", "Orders"} <= set(told)
