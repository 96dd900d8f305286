"""The styles that QGIS opens the layers with."""

import xml.etree.ElementTree as ET

import pyogrio
import pytest

from pipeline.publish.geopackage.columns import describe_columns
from pipeline.publish.geopackage.qgis_styles import as_qml
from tests.publish.geopackage.sample import DRAWN, ask, cores_table, qml, sld, write

STATUS_RULES = "renderer-v2/rules/rule[@key='status']/rule"
MARK_RULES = "renderer-v2/rules/rule[@key='marks']/rule"


def test_every_core_is_drawn_by_one_rule_hollow_where_its_street_surface_or_district_is_unsure(tmp_path):
    path = write(tmp_path / "a.gpkg")
    rules = qml(path, "cores").findall(STATUS_RULES)
    drawn = dict.fromkeys("ABCDEF", "")
    symbols = {symbol.get("name"): symbol for symbol in qml(path, "cores").findall("renderer-v2/symbols/symbol")}
    for rule in rules:
        symbol = symbols[rule.get("symbol")]
        # halo, shape, and the white middle of a hollow one
        is_hollow = len(symbol.findall("layer")) == 3
        # QGIS's expressions are SQL; a core that two rules drew would come out twice
        for (core,) in ask(path, f"SELECT core_id FROM cores WHERE {rule.get('filter')}"):
            drawn[core] += rule.get("key").removesuffix("-unsure") + (", hollow" if is_hollow else "")
    assert list(drawn.values()) == DRAWN


def test_shapes_and_colours_are_those_of_the_map(tmp_path):
    # as the map's script dom.js draws them
    path = write(tmp_path / "a.gpkg")
    shapes = {"flagged": ("triangle", "#b1123f"), "pending": ("square", "#ffe07a"), "reinstated": ("circle", "#3aa7a0")}
    style = qml(path, "cores")
    symbols = {symbol.get("name"): symbol for symbol in style.findall("renderer-v2/symbols/symbol")}
    for rule in style.findall(STATUS_RULES):
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
        for mark in sld(path, "cores").iter(f"{se}Mark")
    ]
    assert set(marks) == {*shapes.values(), *((shape, "#ffffff") for shape, _ in shapes.values())}


def test_state_and_urgency_can_be_read_from_a_symbol_as_on_the_map(tmp_path):
    path = write(tmp_path / "a.gpkg")
    marked = {
        rule.get("key"): [core for (core,) in ask(path, f"SELECT core_id FROM cores WHERE {rule.get('filter')}")]
        for rule in qml(path, "cores").findall(MARK_RULES)
    }
    # D is reinstated, and has no mark; of the other urgencies there is no badge
    assert marked == {
        "state-open": ["A"], "state-plated": ["B"], "state-interim": ["C"], "state-unknown": ["E"],
        "hazard": ["A"], "overdue": ["B"],
    }  # fmt: skip
    symbols = qml(path, "cores").findall("renderer-v2/symbols/symbol")
    colours = {}
    for rule, symbol in zip(qml(path, "cores").findall(MARK_RULES), symbols[6:], strict=True):
        by = symbol.find("layer/data_defined_properties//Option[@name='fillColor']/Option[@name='expression']")
        if by is not None:
            colours[rule.get("key")] = dict(ask(path, f"SELECT core_id, {by.get('value')} FROM cores"))
    # white on red, and ink on the white middle of B, which is uncertain
    assert len(colours) == 4
    assert set(map(str, colours.values())) == {str(dict(zip("ABCDEF", ["#ffffff", *["#222222"] * 5], strict=True)))}


def test_streets_are_cased_and_the_most_urgent_lies_on_top():
    style = ET.fromstring(
        as_qml("segments", ["segment_id", "class_name", "cores_hazard", "cores_open"], {}).split("\n", 1)[1]
    )
    assert style.find("renderer-v2").get("symbollevels") == "1"
    passes = {}
    for rule, symbol in zip(style.iter("rule"), style.iter("symbol"), strict=True):
        passes[rule.get("key")] = [int(layer.get("pass")) for layer in symbol.findall("layer")]
        least = [
            float(option.get("value").split(",")[3])
            for option in symbol.iter("Option")
            if option.get("name") == "width_map_unit_scale"
        ]
        # the casing is wider than the line on it
        assert least[0] > least[1], rule.get("key")
    assert list(passes) == ["hazard", "open", "none"]
    # dots along the line where there is a hazard
    assert [len(one) for one in passes.values()] == [3, 2, 2]
    assert min(passes["hazard"]) > max(passes["open"]) > min(passes["open"]) > max(passes["none"])


def test_works_are_named_in_their_own_colours(tmp_path):
    for layer in ("works", "works_lines"):
        style = ET.fromstring(as_qml(layer, ["works_id", "kind", "name"], {}).split("\n", 1)[1])
        (colour,) = style.findall("labeling/settings/dd_properties//Option[@name='expression']")
        for kind, expected in (("planned", "#7d4fb8"), ("protected", "#2d6fb3"), ("resurfaced", "#62672f")):
            path = write(tmp_path / f"{layer}-{kind}.gpkg")
            question = colour.get("value").replace('"kind"', f"'{kind}'")
            assert ask(path, f"SELECT {question}") == [(expected,)]


def test_what_needs_attention_lies_on_top(tmp_path):
    path = write(tmp_path / "a.gpkg")
    (order,) = qml(path, "cores").findall("renderer-v2/orderby/orderByClause")
    assert qml(path, "cores").find("renderer-v2").get("enableorderby") == "1"
    last = ask(path, f"SELECT status FROM cores ORDER BY {order.text}")
    assert [status for (status,) in last] == ["reinstated"] * 2 + ["pending"] * 2 + ["flagged"] * 2
    # a later style of the standard lies on an earlier one
    se = "{http://www.opengis.net/se}"
    names = [style.find(f"{se}Rule/{se}Name").text for style in sld(path, "cores").iter(f"{se}FeatureTypeStyle")]
    assert names == ["Reinstated", "Pending", "Flagged", "Id"]


def test_a_district_is_labelled_with_its_name_and_counts(tmp_path):
    path = write(tmp_path / "a.gpkg", districts=("O'Neill's \"<Quay>\" & Co.",))
    text = qml(path, "districts").find("labeling/settings/text-style").get("fieldName")
    ((label,),) = ask(path, f"SELECT {text} FROM districts")
    assert label == "O'Neill's \"<Quay>\" & Co.\\n2 flagged, 3 pending, 4 reinstated"
    assert "".join(sld(path, "districts").find(".//{http://www.opengis.net/se}Label").itertext()) == (
        "district: cores_flagged flagged, cores_pending pending, cores_reinstated reinstated"
    )


def test_ids_are_written_close_in_only(tmp_path):
    ids, clear = qml(write(tmp_path / "a.gpkg"), "cores").findall("labeling/rules/rule")
    assert (ids.get("scalemaxdenom"), ids.get("scalemindenom")) == ("1500", "0")
    # farther out nothing is written, but names of streets still keep clear of the cores
    assert (clear.get("scalemaxdenom"), clear.get("scalemindenom")) == ("0", "1500")
    drawn = [rule.find("settings/rendering").get("drawLabels") for rule in (ids, clear)]
    assert drawn == ["1", "0"]
    # a label beside a point is written nowhere unless the places are named
    assert ids.find("settings/placement").get("predefinedPositionOrder").startswith("R,L")
    se = "{http://www.opengis.net/se}"
    denominators = [one.text for one in sld(tmp_path / "a.gpkg", "cores").iter(f"{se}MaxScaleDenominator")]
    assert denominators == ["1500"]


def test_titles_and_lists_of_values_are_those_of_the_schema_extension(tmp_path):
    path = write(tmp_path / "a.gpkg")
    for layer in ("cores", "segments", "districts", "findings", "orders"):
        aliases = {alias.get("field"): alias.get("name") for alias in qml(path, layer).findall("aliases/alias")}
        question = "SELECT column_name, title FROM gpkg_data_columns WHERE table_name = ? AND title IS NOT NULL"
        assert aliases == dict(ask(path, question, layer))
        columns = [name for (name,) in ask(path, "SELECT name FROM pragma_table_info(?)", layer) if name != "geom"]
        for alias in qml(path, layer).findall("aliases/alias"):
            assert columns[int(alias.get("index"))] == alias.get("field")
        for field in qml(path, layer).findall("fieldConfiguration/field"):
            options = [option for option in field.iter("Option") if option.get("value") is not None]
            question = (
                "SELECT value, c.description FROM gpkg_data_columns JOIN gpkg_data_column_constraints c "
                "USING (constraint_name) WHERE table_name = ? AND column_name = ? AND constraint_type = 'enum' ORDER BY c.rowid"
            )
            listed = ask(path, question, layer, field.get("name"))
            assert [(option.get("value"), option.get("name")) for option in options] == listed
            # no value of the column is missing from its list
            used = ask(path, f'SELECT DISTINCT "{field.get("name")}" FROM {layer}')
            assert {value for (value,) in used} - {None} <= {value for value, _ in listed}
    named = ask(path, "SELECT table_name, column_name FROM gpkg_data_columns WHERE constraint_name IS NOT NULL")
    of_cores = ("status", "side", "surface_from", "state", "urgency")
    assert set(named) == {("findings", "severity"), *(("cores", name) for name in of_cores)}


@pytest.mark.parametrize(
    ("columns", "rules", "hollow", "is_labelled"),
    [
        (["core_id", "status", "findings", "street"], 6, 3, True),
        (["core_id", "status"], 3, 0, True),
        (["row", "findings"], 1, 0, False),
    ],
)
def test_a_table_of_few_columns_is_styled_by_what_it_has(tmp_path, columns, rules, hollow, is_labelled):
    path = write(tmp_path / "a.gpkg", cores_table()[columns], districts=(), findings=False, orders=False)
    assert {name for name, _ in pyogrio.list_layers(path)} == {"cores", "segments", "layer_styles"}
    style = qml(path, "cores")
    assert len(style.findall(STATUS_RULES)) == rules
    assert style.findall(MARK_RULES) == []
    assert [len(symbol.findall("layer")) for symbol in style.findall("renderer-v2/symbols/symbol")].count(3) == hollow
    assert (style.get("labelsEnabled") == "1") == is_labelled == (style.find("labeling") is not None)
    assert [alias.get("field") for alias in style.findall("aliases/alias")] == columns
    named = {element.text for element in sld(path, "cores").iter("{http://www.opengis.net/ogc}PropertyName")}
    assert named <= set(columns)
    for rule in style.findall(STATUS_RULES):
        ask(path, f"SELECT 1 FROM cores WHERE {rule.get('filter') or 1}")


@pytest.mark.parametrize("layer", ["findings", "orders"])
def test_a_table_has_aliases_but_nothing_to_draw(layer):
    described = describe_columns(layer, ["row", "severity", "reserve"])
    style = ET.fromstring(as_qml(layer, ["fid", "row", "severity", "reserve"], described).split("\n", 1)[1])
    assert style.find("renderer-v2") is None
    assert style.find("labeling") is None
    assert style.get("styleCategories") == "Fields|Forms"
    # QGIS's number for a table
    assert style.find("layerGeometryType").text == "4"
    assert {alias.get("field") for alias in style.iter("alias")} == set(described)
    # an alias points at its column by number, in the order of the file
    assert {alias.get("field"): int(alias.get("index")) for alias in style.iter("alias")} == {
        name: ["fid", "row", "severity", "reserve"].index(name) for name in described
    }


def test_a_column_without_a_description_has_no_alias():
    style = ET.fromstring(
        as_qml("cores", ["row", "cost"], describe_columns("cores", ["row", "cost"])).split("\n", 1)[1]
    )
    assert [alias.get("field") for alias in style.iter("alias")] == ["row"]


def test_a_list_of_values_shows_meanings_and_keeps_values():
    described = describe_columns("findings", ["severity"])
    style = ET.fromstring(as_qml("findings", ["severity"], described).split("\n", 1)[1])
    (field,) = style.iter("field")
    assert field.find("editWidget").get("type") == "ValueMap"
    options = {option.get("value"): option.get("name") for option in field.iter("Option") if option.get("value")}
    assert options == dict(described["severity"].values)
