"""The styles by the OGC's standard, for other programs."""

import xml.etree.ElementTree as ET

import pytest

from pipeline.publish.geopackage.sld_styles import as_sld
from tests.publish.geopackage.sample import CORES, DRAWN, sld, write

SE, OGC, SLD = "{http://www.opengis.net/se}", "{http://www.opengis.net/ogc}", "{http://www.opengis.net/sld}"
CORE_COLUMNS = ["core_id", "status", "findings"]


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
    rules = [
        rule
        for rule in sld(write(tmp_path / "a.gpkg"), "cores").iter(f"{SE}Rule")
        if rule.find(f"{OGC}Filter") is not None
    ]
    drawn = []
    for status, findings, _ in CORES:
        core = {"status": status, "findings": findings}
        (rule,) = [rule for rule in rules if _holds(rule.find(f"{OGC}Filter")[0], core)]
        is_hollow = len(rule.findall(f"{SE}PointSymbolizer")) == 3
        drawn.append(rule.find(f"{SE}Name").text.split(",")[0].lower() + (", hollow" if is_hollow else ""))
    assert drawn == DRAWN


def _style(layer, columns):
    return ET.fromstring(as_sld(layer, columns))


@pytest.mark.parametrize("layer", ["findings", "orders"])
def test_a_table_has_no_style(layer):
    assert as_sld(layer, ["row"]) is None


@pytest.mark.parametrize("layer", ["cores", "segments", "districts"])
def test_a_style_names_its_layer_and_its_version(layer):
    root = _style(layer, [])
    assert (root.tag, root.get("version")) == (f"{SLD}StyledLayerDescriptor", "1.1.0")
    assert root.find(f"{SLD}NamedLayer/{SE}Name").text == layer


def test_the_parts_of_a_rule_and_of_a_label_are_in_the_order_of_the_schema():
    """OGC 05-077r4: name, filter, scales, symbolizers; label, font, placement, halo, fill."""
    (label,) = [rule for rule in _style("cores", CORE_COLUMNS).iter(f"{SE}Rule") if rule.find(f"{SE}Name").text == "Id"]
    assert [part.tag for part in label] == [f"{SE}Name", f"{SE}MaxScaleDenominator", f"{SE}TextSymbolizer"]
    text = label.find(f"{SE}TextSymbolizer")
    assert [part.tag.removeprefix(SE) for part in text] == ["Label", "Font", "LabelPlacement", "Halo", "Fill"]
    first = next(_style("cores", CORE_COLUMNS).iter(f"{SE}Rule"))
    assert [part.tag for part in first][:2] == [f"{SE}Name", f"{OGC}Filter"]


@pytest.mark.parametrize(
    ("layer", "columns", "names"),
    [
        ("cores", [], []),
        ("cores", ["status"], ["Reinstated", "Pending", "Flagged"]),
        ("cores", ["core_id"], ["Id"]),
        ("segments", [], ["Road segment"]),
        ("segments", ["street"], ["Road segment", "Street"]),
        ("districts", [], ["District"]),
        ("districts", ["district"], ["District", "Name and cores"]),
    ],
)
def test_what_a_style_needs_and_a_layer_lacks_is_left_out(layer, columns, names):
    root = _style(layer, columns)
    assert [rule.find(f"{SE}Name").text for rule in root.iter(f"{SE}Rule")] == names
    assert {name.text for name in root.iter(f"{OGC}PropertyName")} <= set(columns)


def test_a_district_is_labelled_with_the_counts_that_it_has():
    root = _style("districts", ["district", "cores_flagged", "cores_pending"])
    label = root.find(f".//{SE}Label")
    assert "".join(label.itertext()) == "district: cores_flagged flagged, cores_pending pending"


def test_a_symbol_lies_on_its_halo_and_is_as_wide():
    rule = next(_style("cores", ["status"]).iter(f"{SE}Rule"))
    halo, body = rule.findall(f"{SE}PointSymbolizer")
    widths = [float(mark.find(f".//{SE}Stroke/{SE}SvgParameter[@name='stroke-width']").text) for mark in (halo, body)]
    assert widths[0] > widths[1]
    assert halo.find(f".//{SE}Size").text == body.find(f".//{SE}Size").text == "12.00"


def test_a_hollow_symbol_has_a_white_middle_of_about_half_its_width():
    rules = {rule.find(f"{SE}Name").text: rule for rule in _style("cores", CORE_COLUMNS).iter(f"{SE}Rule")}
    middle = rules["Reinstated, uncertain"].findall(f"{SE}PointSymbolizer")[-1]
    assert middle.find(f".//{SE}Fill/{SE}SvgParameter").text == "#ffffff"
    # 12 pixels times 0.52
    assert float(middle.find(f".//{SE}Size").text) == pytest.approx(6.24)
