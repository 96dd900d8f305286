"""Styles for QGIS, as the QML that it keeps in a GeoPackage: symbols, labels, aliases and lists of values."""

from collections.abc import Collection, Mapping
from typing import Final
from xml.etree.ElementTree import Element

from pipeline.publish.geopackage.columns import Description
from pipeline.publish.geopackage.qgis_cores import draw_cores
from pipeline.publish.geopackage.qgis_lines import draw_segments, draw_works_areas, draw_works_lines
from pipeline.publish.geopackage.qgis_parts import (
    IN_AREA,
    label,
    option,
    options,
    rgba,
    single,
    symbol,
    symbol_layer,
)
from pipeline.publish.geopackage.scales import ALWAYS, Scales
from pipeline.publish.geopackage.xml_tree import as_text, element
from pipeline.publish.looks import DISTRICT_LINE, STATUS_LOOKS

__all__ = ["as_qml"]

_HEAD: Final = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
_VERSION: Final = "3.22.0"
# QGIS's own numbers for geometries
_KIND: Final = {"cores": 0, "works": 2, "works_lines": 1, "segments": 1, "districts": 2}


def as_qml(layer: str, columns: Collection[str], described: Mapping[str, Description], scales: Scales = ALWAYS) -> str:
    """Return the style of a layer or table.

    Parameters
    ----------
    layer
        A key of ``geopackage.columns.LAYERS``.
    columns
        Every column of the table in the order of the file, without its geometry.
    described
        Titles and lists of values of the columns that have them.
    scales
        From which scales cores are drawn.

    Notes
    -----
    The format is as QGIS 3.22 writes it; what is left out takes QGIS's defaults.
    """
    parts: list[Element] = []
    if layer in _KIND:
        renderer, labels = draw_cores(columns, scales) if layer == "cores" else _STYLES[layer](columns)
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
    "works": draw_works_areas,
    "works_lines": draw_works_lines,
    "segments": draw_segments,
    "districts": _districts,
}
