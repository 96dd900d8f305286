"""Styles for QGIS, as the QML that it keeps in a GeoPackage: symbols, labels, aliases and lists of values."""

from collections.abc import Collection, Mapping
from typing import Final
from xml.etree.ElementTree import Element

from pipeline.publish.geopackage.columns import Description
from pipeline.publish.geopackage.xml_tree import as_text, element
from pipeline.publish.looks import DISTRICT_LINE, HALO, HOLLOW, INK, SEGMENT_LINE, STATUS_LOOKS, Look
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
# labels are drawn at these scales and larger ones
_LABELS: Final = 2500
# QGIS's own numbers for geometries and for where a label goes
_KIND: Final = {"cores": 0, "segments": 1, "districts": 2}
_BESIDE_POINT: Final = 6
_ALONG_LINE: Final = 2
_LEVEL_IN_AREA: Final = 1


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
        renderer, label = {"cores": _cores, "segments": _segments, "districts": _districts}[layer](columns)
        parts = [renderer, *([label] if label is not None else [])]
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
    entries = [_options([_option(label, value)]) for value, label in values.items()]
    named = element("Option", *entries, at={"name": "map", "type": "List"})
    return element("editWidget", element("config", _options([named])), at={"type": "ValueMap"})


def _cores(columns: Collection[str]) -> tuple[Element, Element | None]:
    rules: list[Element] = []
    symbols: list[Element] = []
    for status, look in STATUS_LOOKS.items() if "status" in columns else ():
        for is_unsure in (False, True) if "findings" in columns else (None,):
            where = f"\"status\" = '{status}'"
            if is_unsure is not None:
                where += f" AND {'' if is_unsure else 'NOT '}{_UNSURE}"
            key = f"{status}-unsure" if is_unsure else status
            label = status.capitalize() + (", street, surface or district uncertain" if is_unsure else "")
            rules.append(element("rule", at={"key": key, "symbol": len(symbols), "label": label, "filter": where}))
            symbols.append(_symbol(len(symbols), "marker", _marks(look, is_hollow=bool(is_unsure))))
    if not rules:
        rules.append(element("rule", at={"key": "core", "symbol": 0, "label": "Core"}))
        symbols.append(_symbol(0, "marker", _marks(STATUS_LOOKS["reinstated"], is_hollow=False)))
    # what needs attention is drawn last
    order = element("orderby", element("orderByClause", _RANK, at={"asc": 1, "nullsFirst": 1}))
    at = {"type": "RuleRenderer", "enableorderby": int("status" in columns), "symbollevels": 0, "forceraster": 0}
    renderer = element(
        "renderer-v2", element("rules", *rules, at={"key": "cores"}), element("symbols", *symbols), order, at=at
    )
    return renderer, _label('"core_id"', INK, _BESIDE_POINT, _LABELS) if "core_id" in columns else None


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
    return _symbol_layer(
        "SimpleMarker",
        {
            "name": look.gis_marker, "color": _rgba(fill), "joinstyle": "round",
            "outline_color": _rgba(line), "outline_style": "solid", "outline_width": width, "outline_width_unit": "MM",
            # so many metres on the ground, but never smaller or larger than legible
            "size": f"{_GROUND_M * size:.3f}", "size_unit": "RenderMetersInMapUnits", "scale_method": "diameter",
            "size_map_unit_scale": f"3x:0,0,1,{smallest:.3f},1,{largest:.3f}",
        },
    )  # fmt: skip


def _segments(columns: Collection[str]) -> tuple[Element, Element | None]:
    line = _symbol_layer(
        "SimpleLine",
        {
            "line_color": _rgba(SEGMENT_LINE), "line_style": "solid", "capstyle": "round", "joinstyle": "round",
            "line_width": 6, "line_width_unit": "RenderMetersInMapUnits",
            "width_map_unit_scale": "3x:0,0,1,0.35,1,1.1",
        },
    )  # fmt: skip
    label = _label('"street"', INK, _ALONG_LINE, _LABELS) if "street" in columns else None
    return _single(_symbol(0, "line", [line])), label


def _districts(columns: Collection[str]) -> tuple[Element, Element | None]:
    outline = _symbol_layer(
        "SimpleFill",
        {
            "style": "no", "outline_color": _rgba(DISTRICT_LINE), "outline_style": "dash", "outline_width": 0.6,
            "outline_width_unit": "MM", "joinstyle": "round",
        },
    )  # fmt: skip
    label = None
    if "district" in columns:
        counts = [
            f"coalesce(\"cores_{status}\", 0) || ' {status}'" for status in STATUS_LOOKS if f"cores_{status}" in columns
        ]
        text = '"district"' + (" || '\\n' || " + " || ', ' || ".join(counts) if counts else "")
        label = _label(text, DISTRICT_LINE, _LEVEL_IN_AREA, None, is_first=True)
    return _single(_symbol(0, "fill", [outline])), label


def _single(symbol: Element) -> Element:
    return element("renderer-v2", element("symbols", symbol), at={"type": "singleSymbol", "symbollevels": 0})


def _symbol(number: int, kind: str, layers: list[Element]) -> Element:
    return element("symbol", *layers, at={"name": number, "type": kind, "alpha": 1, "clip_to_extent": 1})


def _symbol_layer(kind: str, options: Mapping[str, object]) -> Element:
    inner = _options([_option(name, value) for name, value in options.items()])
    return element("layer", inner, at={"class": kind, "enabled": 1, "locked": 0, "pass": 0})


def _options(inner: list[Element]) -> Element:
    return element("Option", *inner, at={"type": "Map"})


def _option(name: str, value: object) -> Element:
    return element("Option", at={"name": name, "type": "QString", "value": value})


def _label(text: str, colour: str, where: int, below: int | None, *, is_first: bool = False) -> Element:
    halo = {
        "bufferDraw": 1,
        "bufferSize": 1.2 if is_first else 0.8,
        "bufferSizeUnits": "MM",
        "bufferColor": _rgba(HALO),
        "bufferOpacity": 1,
    }
    style = {
        "fieldName": text, "isExpression": 1, "fontFamily": "Sans Serif", "fontSize": 8.5, "fontSizeUnit": "Point",
        "fontWeight": 75 if is_first else 50, "textColor": _rgba(colour), "textOpacity": 1, "multilineHeight": 1,
    }  # fmt: skip
    placement = {
        "placement": where,
        "dist": 1.5 if where == _BESIDE_POINT else 0,
        "distUnits": "MM",
        "placementFlags": 9,
    }
    placement |= {"priority": 10 if is_first else 5, "offsetType": 1}
    rendering = {"drawLabels": 1, "scaleVisibility": int(below is not None), "scaleMin": 0, "scaleMax": below or 0}
    return element(
        "labeling",
        element(
            "settings",
            element("text-style", element("text-buffer", at=halo), at=style),
            element("text-format", at={"multilineAlign": 1, "wrapChar": ""}),
            element("placement", at=placement),
            element("rendering", at={**rendering, "mergeLines": int(where == _ALONG_LINE), "obstacle": 1}),
        ),
        at={"type": "simple"},
    )


def _rgba(colour: str) -> str:
    return ",".join(str(int(colour[at : at + 2], 16)) for at in (1, 3, 5)) + ",255"
