"""Styles for QGIS, as the QML that it keeps in a GeoPackage: symbols, labels, aliases and lists of values."""

from collections.abc import Collection, Mapping
from typing import Final
from xml.etree.ElementTree import Element

from pipeline.publish.geopackage.columns import Description
from pipeline.publish.geopackage.qgis_lines import draw_segments, draw_works_areas, draw_works_lines
from pipeline.publish.geopackage.qgis_parts import (
    BESIDE_POINT,
    IN_AREA,
    label,
    option,
    options,
    rgba,
    single,
    symbol,
    symbol_layer,
)
from pipeline.publish.geopackage.xml_tree import as_text, element
from pipeline.publish.looks import DISTRICT_LINE, HALO, HOLLOW, INK, STATUS_LOOKS, Look
from pipeline.publish.map.cores import UNSURE_RULES

__all__ = ["as_qml"]

_HEAD: Final = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
_VERSION: Final = "3.22.0"
# millimetres on paper or screen: a circle's width far out and close in, and the metres on the ground between the two
_SMALLEST: Final = 2.4
_LARGEST: Final = 4.2
_GROUND_M: Final = 24
_OUTLINE: Final = 0.35
_HALO: Final = 1.0
# ids are written at this scale and larger ones, in points
_LABELS: Final = 1500
_LABEL_SIZE: Final = 7.5
# QGIS's own numbers for geometries
_KIND: Final = {"cores": 0, "works": 2, "works_lines": 1, "segments": 1, "districts": 2}


def as_qml(layer: str, columns: Collection[str], described: Mapping[str, Description]) -> str:
    """Return the style of a layer or table.

    Parameters
    ----------
    layer
        A key of ``geopackage.columns.LAYERS``.
    columns
        Every column of the table in the order of the file, without its geometry.
    described
        Titles and lists of values of the columns that have them.

    Notes
    -----
    The format is as QGIS 3.22 writes it; what is left out takes QGIS's defaults.
    """
    parts: list[Element] = []
    if layer in _KIND:
        renderer, labels = _STYLES[layer](columns)
        parts = [renderer, *([labels] if labels is not None else [])]
    parts += _form(list(columns), described)
    if "core_id" in columns and layer == "cores":
        parts.append(element("previewExpression", '"core_id"'))
    parts.append(element("layerGeometryType", str(_KIND.get(layer, 4))))
    is_labelled = int(any(part.tag == "labeling" for part in parts))
    categories = "LayerConfiguration|Symbology|Labeling|Fields|Forms" if layer in _KIND else "Fields|Forms"
    at = {"version": _VERSION, "styleCategories": categories, "labelsEnabled": is_labelled, "readOnly": 0}
    return as_text(element("qgis", *parts, at=at), _HEAD)


def _form(columns: list[str], described: Mapping[str, Description]) -> list[Element]:
    aliases = [
        element("alias", at={"field": name, "index": columns.index(name), "name": column.title})
        for name, column in described.items()
    ]
    lists = [
        element("field", _value_map(column.values), at={"name": name, "configurationFlags": "None"})
        for name, column in described.items()
        if column.values
    ]
    return [element("fieldConfiguration", *lists), element("aliases", *aliases)]


def _value_map(values: Mapping[str, str]) -> Element:
    entries = [options([option(meaning, value)]) for value, meaning in values.items()]
    named = element("Option", *entries, at={"name": "map", "type": "List"})
    return element("editWidget", element("config", options([named])), at={"type": "ValueMap"})


def _cores(columns: Collection[str]) -> tuple[Element, Element | None]:
    rules: list[Element] = []
    symbols: list[Element] = []
    for status, look in STATUS_LOOKS.items() if "status" in columns else ():
        for is_unsure in (False, True) if "findings" in columns else (None,):
            where = f"\"status\" = '{status}'"
            if is_unsure is not None:
                where += f" AND {'' if is_unsure else 'NOT '}{_UNSURE}"
            key = f"{status}-unsure" if is_unsure else status
            title = status.capitalize() + (", street, surface or district uncertain" if is_unsure else "")
            rules.append(element("rule", at={"key": key, "symbol": len(symbols), "label": title, "filter": where}))
            symbols.append(symbol(len(symbols), "marker", _marks(look, is_hollow=bool(is_unsure))))
    if not rules:
        rules.append(element("rule", at={"key": "core", "symbol": 0, "label": "Core"}))
        symbols.append(symbol(0, "marker", _marks(STATUS_LOOKS["reinstated"], is_hollow=False)))
    # what needs attention is drawn last
    order = element("orderby", element("orderByClause", _RANK, at={"asc": 1, "nullsFirst": 1}))
    at = {"type": "RuleRenderer", "enableorderby": int("status" in columns), "symbollevels": 0, "forceraster": 0}
    renderer = element(
        "renderer-v2", element("rules", *rules, at={"key": "cores"}), element("symbols", *symbols), order, at=at
    )
    return renderer, label(
        '"core_id"', INK, BESIDE_POINT, _LABELS, size=_LABEL_SIZE, priority=3
    ) if "core_id" in columns else None


# a regular expression would take most of the time that a large layer takes to draw
_UNSURE: Final = (
    "("
    + " OR ".join(f"strpos(';' || coalesce(\"findings\", '') || ';', ';{rule};') > 0" for rule in UNSURE_RULES)
    + ")"
)
_RANK: Final = (
    "CASE "
    + " ".join(f"WHEN \"status\" = '{status}' THEN {rank}" for rank, status in enumerate(reversed(STATUS_LOOKS)))
    + " END"
)


def _marks(look: Look, *, is_hollow: bool) -> list[Element]:
    marks = [
        _mark(look, HALO, HALO, look.size, _HALO),
        _mark(look, look.fill, look.outline, look.size, _OUTLINE),
    ]
    if is_hollow:
        marks.append(_mark(look, HALO, look.outline, look.size * HOLLOW, _OUTLINE))
    return marks


def _mark(look: Look, fill: str, line: str, size: float, width: float) -> Element:
    smallest, largest = _SMALLEST * size, _LARGEST * size
    return symbol_layer(
        "SimpleMarker",
        {
            "name": look.gis_marker, "color": rgba(fill), "joinstyle": "round",
            "outline_color": rgba(line), "outline_style": "solid", "outline_width": width, "outline_width_unit": "MM",
            # so many metres on the ground, but never smaller or larger than legible
            "size": f"{_GROUND_M * size:.3f}", "size_unit": "RenderMetersInMapUnits", "scale_method": "diameter",
            "size_map_unit_scale": f"3x:0,0,1,{smallest:.3f},1,{largest:.3f}",
        },
    )  # fmt: skip


def _districts(columns: Collection[str]) -> tuple[Element, Element | None]:
    outline = symbol_layer(
        "SimpleFill",
        {
            "style": "no", "outline_color": rgba(DISTRICT_LINE), "outline_style": "dash", "outline_width": 0.6,
            "outline_width_unit": "MM", "joinstyle": "round",
        },
    )  # fmt: skip
    name = None
    if "district" in columns:
        counts = [
            f"coalesce(\"cores_{status}\", 0) || ' {status}'" for status in STATUS_LOOKS if f"cores_{status}" in columns
        ]
        text = '"district"' + (" || '\\n' || " + " || ', ' || ".join(counts) if counts else "")
        name = label(text, DISTRICT_LINE, IN_AREA, None, is_bold=True, priority=10)
    return single(symbol(0, "fill", [outline])), name


_STYLES: Final = {
    "cores": _cores,
    "works": draw_works_areas,
    "works_lines": draw_works_lines,
    "segments": draw_segments,
    "districts": _districts,
}
