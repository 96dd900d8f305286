"""Parts that QGIS's styles are made of: symbols, rules, labels and options."""

from collections.abc import Mapping, Sequence
from typing import Final
from xml.etree.ElementTree import Element

from pipeline.publish.geopackage.xml_tree import element
from pipeline.publish.looks import HALO

__all__ = [
    "ALONG_LINE", "BESIDE_POINT", "IN_AREA", "label", "option", "options", "rgba", "rules_renderer", "single", "symbol",
    "symbol_layer",
]  # fmt: skip

# QGIS's own numbers for where a label goes
BESIDE_POINT: Final = 6
ALONG_LINE: Final = 2
IN_AREA: Final = 1
# millimetres: a line or area smaller than this on the map has no label
_LEAST_LABELLED: Final = 12
_PROPERTY_BY_EXPRESSION: Final = 3


def rules_renderer(key: str, rules: Sequence[tuple[str, str, str, Element]]) -> Element:
    """Return a renderer that draws each feature by the first rule that it meets: key, title, filter and symbol."""
    listed = [
        element("rule", at={"key": name, "symbol": number, "label": title, "filter": where})
        for number, (name, title, where, _) in enumerate(rules)
    ]
    symbols = [one for *_, one in rules]
    at = {"type": "RuleRenderer", "symbollevels": 0, "forceraster": 0}
    return element("renderer-v2", element("rules", *listed, at={"key": key}), element("symbols", *symbols), at=at)


def single(symbol: Element) -> Element:
    return element("renderer-v2", element("symbols", symbol), at={"type": "singleSymbol", "symbollevels": 0})


def symbol(number: int, kind: str, layers: list[Element]) -> Element:
    return element("symbol", *layers, at={"name": number, "type": kind, "alpha": 1, "clip_to_extent": 1})


def symbol_layer(kind: str, settings: Mapping[str, object], width: str | None = None) -> Element:
    """Return a layer of a symbol; ``width``: an expression for the width of its line, in place of the one set."""
    parts = [options([option(name, value) for name, value in settings.items()])]
    if width is not None:
        by_expression = element(
            "Option",
            option("active", "true", "bool"),
            option("expression", width),
            option("type", _PROPERTY_BY_EXPRESSION, "int"),
            at={"name": "outlineWidth", "type": "Map"},
        )
        properties = element("Option", by_expression, at={"name": "properties", "type": "Map"})
        collection = options([option("name", ""), properties, option("type", "collection")])
        parts.append(element("data_defined_properties", collection))
    return element("layer", *parts, at={"class": kind, "enabled": 1, "locked": 0, "pass": 0})


def options(inner: list[Element]) -> Element:
    return element("Option", *inner, at={"type": "Map"})


def option(name: str, value: object, kind: str = "QString") -> Element:
    return element("Option", at={"name": name, "type": kind, "value": value})


def label(
    text: str,
    colour: str,
    where: int,
    below: int | None,
    *,
    size: float = 8.5,
    priority: int = 5,
    is_bold: bool = False,
) -> Element:
    """Return labels that are left out where there is no room for them.

    Parameters
    ----------
    text
        An expression.
    colour
        As ``#rrggbb``.
    where
        ``BESIDE_POINT``, ``ALONG_LINE`` or ``IN_AREA``.
    below
        Scale from which on they are drawn, such as 2500 for 1:2500; None for all.
    size
        In points.
    priority
        Which label stays where two have no room: 0 to 10.
    is_bold
        Whether it is set in bold.
    """
    halo = {
        "bufferDraw": 1, "bufferSize": 1.2 if is_bold else 0.8, "bufferSizeUnits": "MM", "bufferColor": rgba(HALO),
        "bufferOpacity": 1,
    }  # fmt: skip
    style = {
        "fieldName": text, "isExpression": 1, "fontFamily": "Sans Serif", "fontSize": size, "fontSizeUnit": "Point",
        "fontWeight": 75 if is_bold else 50, "textColor": rgba(colour), "textOpacity": 1, "multilineHeight": 1,
    }  # fmt: skip
    placement = {
        "placement": where, "dist": 1.5 if where == BESIDE_POINT else 0, "distUnits": "MM", "placementFlags": 9,
        "priority": priority, "offsetType": 1, "overlapHandling": "PreventOverlap", "allowDegraded": 0,
        "overrunDistance": 0, "fitInPolygonOnly": int(where == IN_AREA),
    }  # fmt: skip
    rendering = {
        "drawLabels": 1, "scaleVisibility": int(below is not None), "scaleMin": 0, "scaleMax": below or 0,
        "displayAll": 0, "labelPerPart": 0, "minFeatureSize": 0 if where == BESIDE_POINT else _LEAST_LABELLED,
        "mergeLines": int(where == ALONG_LINE), "obstacle": 1,
    }  # fmt: skip
    return element(
        "labeling",
        element(
            "settings",
            element("text-style", element("text-buffer", at=halo), at=style),
            element("text-format", at={"multilineAlign": 1, "wrapChar": ""}),
            element("placement", at=placement),
            element("rendering", at=rendering),
        ),
        at={"type": "simple"},
    )


def rgba(colour: str) -> str:
    return ",".join(str(int(colour[at : at + 2], 16)) for at in (1, 3, 5)) + ",255"
