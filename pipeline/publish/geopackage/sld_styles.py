"""Styles by the OGC's Styled Layer Descriptor 1.1 and Symbology Encoding 1.1, for programs of any kind."""

from collections.abc import Callable, Collection, Iterator
from functools import partial
from typing import Final
from xml.etree.ElementTree import Element

from pipeline.publish.geopackage.levels import WIDE_CLASSES, WORKS_KINDS, levels_of
from pipeline.publish.geopackage.xml_tree import as_text, element
from pipeline.publish.looks import COLOURS, DISTRICT_LINE, HALO, HOLLOW, INK, SEGMENT_LINE, STATUS_LOOKS, Look
from pipeline.publish.map.cores import UNSURE_RULES

__all__ = ["as_sld"]

# pixels, which the standard takes as 0.28 mm
_SIZE: Final = 12.0
_OUTLINE: Final = 1.3
_HALO: Final = 3.8
_NARROW: Final = 1.6
_WIDE: Final = 2.6
_SHADE: Final = 0.22
_DASHES: Final = {"planned": "8 4", "protected": None, "resurfaced": "2 3"}
# ids, streets and works are named at these scales and larger ones
_LABELS: Final = 1500
_STREET_NAMES: Final = 7500
_WORKS_NAMES: Final = 15000
_NAMESPACES: Final = {
    "xmlns": "http://www.opengis.net/sld",
    "xmlns:se": "http://www.opengis.net/se",
    "xmlns:ogc": "http://www.opengis.net/ogc",
}


def as_sld(layer: str, columns: Collection[str]) -> str | None:
    """Return the style of a layer as XML, for the columns that it has; None for a table.

    Elements are in the order that the schemas of SE 1.1.0 give (OGC 05-077r4, FeatureStyle.xsd and Symbolizer.xsd).
    A style on top of another is a later FeatureTypeStyle.
    """
    styles: dict[str, Callable[[Collection[str]], Iterator[Element]]] = {
        "cores": _cores,
        "works": partial(_works, is_area=True),
        "works_lines": partial(_works, is_area=False),
        "segments": _segments,
        "districts": _districts,
    }
    if layer not in styles:
        return None
    user = element("UserStyle", element("se:Name", layer), *styles[layer](columns))
    root = element(
        "StyledLayerDescriptor",
        element("NamedLayer", element("se:Name", layer), user),
        at={"version": "1.1.0", **_NAMESPACES},
    )
    return as_text(root)


def _cores(columns: Collection[str]) -> Iterator[Element]:
    if "status" in columns:
        # what needs attention is drawn last
        for status, look in reversed(STATUS_LOOKS.items()):
            unsure = _is_unsure() if "findings" in columns else None
            has_it = _equals("status", status)
            if unsure is None:
                yield _style(_rule(status.capitalize(), has_it, *_symbol(look)))
                continue
            yield _style(
                _rule(status.capitalize(), element("ogc:And", has_it, element("ogc:Not", unsure)), *_symbol(look)),
                _rule(
                    f"{status.capitalize()}, uncertain",
                    element("ogc:And", has_it, unsure),
                    *_symbol(look),
                    _mark(look, HALO, look.outline, _SIZE * look.size * HOLLOW, _OUTLINE),
                ),
            )
    if "core_id" in columns:
        beside = element(
            "se:PointPlacement",
            element("se:AnchorPoint", element("se:AnchorPointX", "0"), element("se:AnchorPointY", "0.5")),
            element("se:Displacement", element("se:DisplacementX", "10"), element("se:DisplacementY", "0")),
        )
        yield _style(_rule("Id", None, _text([_property("core_id")], beside, INK), below=_LABELS))


def _segments(columns: Collection[str]) -> Iterator[Element]:
    levels = levels_of(columns)
    rules = []
    earlier: list[Element] = []
    for level in levels:
        here = [_above_zero(name) for name in level.counts]
        not_before = [element("ogc:Not", one) for one in earlier]
        for title, is_wide in (("", False), (", wider road", True)) if "class_name" in columns else (("", False),):
            wanted = [*not_before, *([_any_of(here)] if here else [])]
            if "class_name" in columns:
                wide = _any_of([_equals("class_name", name) for name in WIDE_CLASSES])
                wanted.append(wide if is_wide else element("ogc:Not", wide))
            where = None if not wanted else wanted[0] if len(wanted) == 1 else element("ogc:And", *wanted)
            colour = SEGMENT_LINE if len(levels) == 1 else COLOURS[f"street-{level.name}"]
            line = _stroke(colour, _WIDE if is_wide else _NARROW, cap="round")
            name = "Road segment" if len(levels) == 1 else level.title
            rules.append(_rule(name + title, where, element("se:LineSymbolizer", line)))
        if here:
            earlier.append(_any_of(here))
    yield _style(*rules)
    if "street" in columns:
        yield _style(_rule("Street", None, _text([_property("street")], _along(), INK), below=_STREET_NAMES))


def _works(columns: Collection[str], *, is_area: bool) -> Iterator[Element]:
    rules = []
    for kind, title in WORKS_KINDS.items():
        colour = COLOURS[f"works-{kind}"]
        if is_area:
            shade = element("se:Fill", _parameter("fill", colour), _parameter("fill-opacity", _SHADE))
            look = element("se:PolygonSymbolizer", shade, _stroke(colour, 2.4, dasharray=_DASHES[kind]))
        else:
            look = element("se:LineSymbolizer", _stroke(colour, 8, cap="butt", opacity=2 * _SHADE))
        rules.append(_rule(title, _equals("kind", kind), look))
    yield _style(*rules)
    if "name" in columns:
        where = _middle() if is_area else _along()
        yield _style(
            _rule("Name", None, _text([_property("name")], where, COLOURS["works-planned"]), below=_WORKS_NAMES)
        )


def _along() -> Element:
    return element("se:LinePlacement", element("se:IsAligned", "true"), element("se:GeneralizeLine", "true"))


def _middle() -> Element:
    anchor = element("se:AnchorPoint", element("se:AnchorPointX", "0.5"), element("se:AnchorPointY", "0.5"))
    return element("se:PointPlacement", anchor)


def _districts(columns: Collection[str]) -> Iterator[Element]:
    line = _stroke(DISTRICT_LINE, 2.2, dasharray="8 5")
    yield _style(_rule("District", None, element("se:PolygonSymbolizer", line)))
    if "district" in columns:
        label: list[Element | str] = [_property("district")]
        for number, (name, status) in enumerate((f"cores_{status}", status) for status in STATUS_LOOKS):
            if name in columns:
                label += [", " if number else ": ", _property(name), f" {status}"]
        yield _style(_rule("Name and cores", None, _text(label, _middle(), DISTRICT_LINE)))


def _style(*rules: Element) -> Element:
    return element("se:FeatureTypeStyle", *rules)


def _rule(title: str, where: Element | None, *symbols: Element, below: int | None = None) -> Element:
    return element(
        "se:Rule",
        element("se:Name", title),
        *([] if where is None else [element("ogc:Filter", where)]),
        *([] if below is None else [element("se:MaxScaleDenominator", str(below))]),
        *symbols,
    )


def _symbol(look: Look) -> list[Element]:
    size = _SIZE * look.size
    return [
        _mark(look, HALO, HALO, size, _HALO),
        _mark(look, look.fill, look.outline, size, _OUTLINE),
    ]


def _mark(look: Look, fill: str, line: str, size: float, width: float) -> Element:
    mark = element("se:Mark", element("se:WellKnownName", look.gis_marker), _fill(fill), _stroke(line, width))
    return element("se:PointSymbolizer", element("se:Graphic", mark, element("se:Size", f"{size:.2f}")))


def _text(label: list[Element | str], placement: Element, colour: str) -> Element:
    font = {"font-family": "sans-serif", "font-size": "11"}
    return element(
        "se:TextSymbolizer",
        element("se:Label", *label),
        element("se:Font", *(_parameter(name, value) for name, value in font.items())),
        element("se:LabelPlacement", placement),
        element("se:Halo", element("se:Radius", "2"), _fill(HALO)),
        _fill(colour),
    )


def _fill(colour: str) -> Element:
    return element("se:Fill", _parameter("fill", colour))


def _stroke(
    colour: str, width: float, *, cap: str | None = None, dasharray: str | None = None, opacity: float | None = None
) -> Element:
    parameters = {
        "stroke": colour, "stroke-opacity": opacity, "stroke-width": width, "stroke-linecap": cap,
        "stroke-dasharray": dasharray,
    }  # fmt: skip
    return element("se:Stroke", *(_parameter(name, value) for name, value in parameters.items() if value is not None))


def _parameter(name: str, value: object) -> Element:
    return element("se:SvgParameter", str(value), at={"name": name})


def _property(name: str) -> Element:
    return element("ogc:PropertyName", name)


def _equals(name: str, value: str) -> Element:
    return element("ogc:PropertyIsEqualTo", _property(name), element("ogc:Literal", value))


def _above_zero(name: str) -> Element:
    return element("ogc:PropertyIsGreaterThan", _property(name), element("ogc:Literal", "0"))


def _any_of(conditions: list[Element]) -> Element:
    return conditions[0] if len(conditions) == 1 else element("ogc:Or", *conditions)


def _is_unsure() -> Element:
    wild = {"wildCard": "*", "singleChar": "?", "escapeChar": "\\"}
    return element(
        "ogc:Or",
        *(
            element("ogc:PropertyIsLike", _property("findings"), element("ogc:Literal", f"*{rule}*"), at=wild)
            for rule in UNSURE_RULES
        ),
    )
