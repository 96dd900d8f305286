"""The styles by the OGC's standard, for other programs."""

from tests.publish.geopackage.sample import CORES, DRAWN, sld, write


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
        for rule in sld(write(tmp_path / "a.gpkg"), "cores").iter(f"{se}Rule")
        if rule.find(f"{ogc}Filter") is not None
    ]
    drawn = []
    for status, findings, _ in CORES:
        core = {"status": status, "findings": findings}
        (rule,) = [rule for rule in rules if _holds(rule.find(f"{ogc}Filter")[0], core)]
        is_hollow = len(rule.findall(f"{se}PointSymbolizer")) == 3
        drawn.append(rule.find(f"{se}Name").text.split(",")[0].lower() + (", hollow" if is_hollow else ""))
    assert drawn == DRAWN
