"""Parts that QGIS's styles are made of: symbols, rules, labels and options."""

from collections.abc import Mapping, Sequence
from typing import Final
from xml.etree.ElementTree import Element

from pipeline.publish.geopackage.xml_tree import element
from pipeline.publish.looks import HALO

__all__ = [
    "ALONG_EDGE", "ALONG_LINE", "BESIDE_POINT", "IN_AREA", "by_scale", "label", "label_settings", "option", "options",
    "rgba", "rules_renderer", "single", "symbol", "symbol_layer",
]  # fmt: skip

# QGIS's own numbers for where a label goes
BESIDE_POINT: Final = 6
ALONG_LINE: Final = 3
ALONG_EDGE: Final = 7
IN_AREA: Final = 4
# millimetres between a label and what it names; cores lie on a street, and its name beside them
_DISTANCES: Final = {BESIDE_POINT: 1.5, ALONG_LINE: 2.2, ALONG_EDGE: 0.6, IN_AREA: 0}
# with 2 QGIS leaves a label out rather than write it over a core, and a busy street has no name at all
_KEPT_CLEAR: Final = 1
# millimetres: a line or area smaller than this on the map has no label
_LEAST_LABELLED: Final = 12
_PROPERTY_BY_EXPRESSION: Final = 3


# above or below the line, whichever way up it is drawn
_BESIDE_LINE: Final = 2 + 4 + 8
# to the right of a symbol first; without an order, nothing is written at all
_ORDER: Final = "R,L,TR,BR,TL,BL"


def rules_renderer(key: str, rules: Sequence[tuple[str, str, str, Element]], *, has_levels: bool = False) -> Element:
    """Return a renderer that draws each feature by the first rule that it meets: key, title, filter and symbol.

    ``has_levels``: the passes of the symbols' layers say what lies on what, not the order of the features.
    """
    listed = [
        element("rule", at={"key": name, "symbol": number, "label": title, "filter": where})
        for number, (name, title, where, _) in enumerate(rules)
    ]
    symbols = [one for *_, one in rules]
    at = {"type": "RuleRenderer", "symbollevels": int(has_levels), "forceraster": 0}
    return element("renderer-v2", element("rules", *listed, at={"key": key}), element("symbols", *symbols), at=at)


def single(symbol: Element) -> Element:
    return element("renderer-v2", element("symbols", symbol), at={"type": "singleSymbol", "symbollevels": 0})


def symbol(number: int, kind: str, layers: list[Element]) -> Element:
    return element("symbol", *layers, at={"name": number, "type": kind, "alpha": 1, "clip_to_extent": 1})


def symbol_layer(
    kind: str, settings: Mapping[str, object], by: Mapping[str, str] | None = None, *, level: int = 0
) -> Element:
    """Return a layer of a symbol; ``by``: expressions by the property that each sets; ``level``: its pass."""
    parts = [options([option(name, value) for name, value in settings.items()])]
    if by:
        parts.append(element("data_defined_properties", _by_expression(by)))
    return element("layer", *parts, at={"class": kind, "enabled": 1, "locked": 0, "pass": level})


def _by_expression(by: Mapping[str, str]) -> Element:
    made = [
        element(
            "Option",
            option("active", "true", "bool"),
            option("expression", expression),
            option("type", _PROPERTY_BY_EXPRESSION, "int"),
            at={"name": name, "type": "Map"},
        )
        for name, expression in by.items()
    ]
    properties = element("Option", *made, at={"name": "properties", "type": "Map"})
    return options([option("name", ""), properties, option("type", "collection")])


def by_scale(below: int | None) -> dict[str, object]:
    """Return the attributes of a rule for a scale, such as 2500 for 1:2500, and larger ones; None for all."""
    return {} if below is None else {"scalemaxdenom": below, "scalemindenom": 0}


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
    colour_by: str | None = None,
) -> Element:
    """Return labels that are left out where there is no room for them; parameters as for ``label_settings``."""
    settings = label_settings(
        text, colour, where, below, size=size, priority=priority, is_bold=is_bold, colour_by=colour_by
    )
    return element("labeling", settings, at={"type": "simple"})


def label_settings(
    text: str,
    colour: str,
    where: int,
    below: int | None,
    *,
    size: float = 8.5,
    priority: int = 5,
    is_bold: bool = False,
    colour_by: str | None = None,
) -> Element:
    """Return how labels look and where they go.

    Parameters
    ----------
    text
        An expression.
    colour
        As ``#rrggbb``.
    where
        ``BESIDE_POINT``, ``ALONG_LINE``, ``ALONG_EDGE`` of an area, or ``IN_AREA``.
    below
        Scale from which on they are drawn, such as 2500 for 1:2500; None for all.
    size
        In points.
    priority
        Which label stays where two have no room: 0 to 10.
    is_bold
        Whether it is set in bold.
    colour_by
        An expression for the colour, in place of the one given.
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
        "placement": where, "dist": _DISTANCES[where], "distUnits": "MM", "placementFlags": _BESIDE_LINE,
        "priority": priority, "offsetType": 1, "overlapHandling": "PreventOverlap", "allowDegraded": 0,
        "overrunDistance": 0, "fitInPolygonOnly": int(where == IN_AREA), "predefinedPositionOrder": _ORDER,
        "maxCurvedCharAngleIn": 25, "maxCurvedCharAngleOut": -25,
    }  # fmt: skip
    rendering = {
        "drawLabels": 1, "scaleVisibility": int(below is not None), "scaleMin": 0, "scaleMax": below or 0,
        "displayAll": 0, "labelPerPart": 0, "minFeatureSize": 0 if where == BESIDE_POINT else _LEAST_LABELLED,
        "mergeLines": int(where == ALONG_LINE), "obstacle": int(where != IN_AREA), "obstacleFactor": _KEPT_CLEAR,
    }  # fmt: skip
    parts = [
        element("text-style", element("text-buffer", at=halo), at=style),
        element("text-format", at={"multilineAlign": 1, "wrapChar": ""}),
        element("placement", at=placement),
        element("rendering", at=rendering),
    ]
    if colour_by is not None:
        parts.append(element("dd_properties", _by_expression({"Color": colour_by})))
    return element("settings", *parts)


def rgba(colour: str) -> str:
    return ",".join(str(int(colour[at : at + 2], 16)) for at in (1, 3, 5)) + ",255"
