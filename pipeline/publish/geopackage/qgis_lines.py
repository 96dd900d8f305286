"""QGIS's styles of streets and works: streets by their class and the worst on them, works by their kind."""

from collections.abc import Collection
from typing import Final
from xml.etree.ElementTree import Element

from pipeline.publish.geopackage.levels import WIDE_CLASSES, WORKS_KINDS, levels_of
from pipeline.publish.geopackage.qgis_parts import (
    ALONG_LINE,
    IN_AREA,
    label,
    rgba,
    rules_renderer,
    single,
    symbol,
    symbol_layer,
)
from pipeline.publish.looks import COLOURS, INK, SEGMENT_LINE

__all__ = ["draw_segments", "draw_works_areas", "draw_works_lines"]

# streets are named at this scale and larger ones, works at this one
_STREET_NAMES: Final = 7500
_WORKS_NAMES: Final = 15000
# metres on the ground that a street is drawn wide
_WIDE_M: Final = 9
_NARROW_M: Final = 5
# millimetres on the map
_WORKS_OUTLINE: Final = 0.8
_WORKS_LINE: Final = 2.6
# of 255: streets and cores stay legible through it
_SHADE: Final = 56
_DASHES: Final = {"planned": "dash", "protected": "solid", "resurfaced": "dot"}


def draw_segments(columns: Collection[str]) -> tuple[Element, Element | None]:
    """Return how streets are drawn, the most urgent on them first, and their names along them."""
    width = None
    if "class_name" in columns:
        listed = ", ".join(f"'{name}'" for name in WIDE_CLASSES)
        width = f'CASE WHEN "class_name" IN ({listed}) THEN {_WIDE_M} ELSE {_NARROW_M} END'
    names = label('"street"', INK, ALONG_LINE, _STREET_NAMES, priority=7) if "street" in columns else None
    levels = levels_of(columns)
    if len(levels) == 1:
        return single(symbol(0, "line", [_street(SEGMENT_LINE, width)])), names
    rules = []
    earlier: list[str] = []
    for number, level in enumerate(levels):
        here = " OR ".join(f'"{name}" > 0' for name in level.counts)
        where = " AND ".join([*(f"NOT ({one})" for one in earlier), *([f"({here})"] if here else [])])
        rules.append(
            (level.name, level.title, where, symbol(number, "line", [_street(COLOURS[f"street-{level.name}"], width)]))
        )
        earlier.append(here)
    return rules_renderer("streets", rules), names


def draw_works_areas(columns: Collection[str]) -> tuple[Element, Element | None]:
    """Return how works that are drawn as areas look: an outline, thinly shaded."""
    rules = [
        (kind, title, f"\"kind\" = '{kind}'", symbol(number, "fill", [_area(kind)]))
        for number, (kind, title) in enumerate(WORKS_KINDS.items())
    ]
    return rules_renderer("works", rules), _works_names(columns, IN_AREA)


def draw_works_lines(columns: Collection[str]) -> tuple[Element, Element | None]:
    """Return how works that are drawn as lines look: a broad band below the street."""
    rules = [
        (kind, title, f"\"kind\" = '{kind}'", symbol(number, "line", [_band(kind)]))
        for number, (kind, title) in enumerate(WORKS_KINDS.items())
    ]
    return rules_renderer("works", rules), _works_names(columns, ALONG_LINE)


def _works_names(columns: Collection[str], where: int) -> Element | None:
    if not {"name", "works_id"} <= set(columns):
        return None
    return label('coalesce("name", "works_id")', COLOURS["works-planned"], where, _WORKS_NAMES, size=8, priority=8)


def _street(colour: str, width: str | None) -> Element:
    return symbol_layer(
        "SimpleLine",
        {
            "line_color": rgba(colour), "line_style": "solid", "capstyle": "round", "joinstyle": "round",
            "line_width": 6, "line_width_unit": "RenderMetersInMapUnits",
            "width_map_unit_scale": "3x:0,0,1,0.35,1,1.6",
        },
        width,
    )  # fmt: skip


def _area(kind: str) -> Element:
    colour = rgba(COLOURS[f"works-{kind}"])
    return symbol_layer(
        "SimpleFill",
        {
            "style": "solid", "color": colour.rpartition(",")[0] + f",{_SHADE}", "outline_color": colour,
            "outline_style": _DASHES[kind], "outline_width": _WORKS_OUTLINE, "outline_width_unit": "MM",
            "joinstyle": "round",
        },
    )  # fmt: skip


def _band(kind: str) -> Element:
    colour = rgba(COLOURS[f"works-{kind}"]).rpartition(",")[0] + f",{2 * _SHADE}"
    return symbol_layer(
        "SimpleLine",
        {
            "line_color": colour, "line_style": "solid", "capstyle": "flat", "joinstyle": "round",
            "line_width": _WORKS_LINE, "line_width_unit": "MM",
        },
    )  # fmt: skip
