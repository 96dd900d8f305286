"""QGIS's styles of streets and works: streets by their class and the worst on them, works by their kind."""

from collections.abc import Collection
from typing import Final
from xml.etree.ElementTree import Element

from pipeline.publish.geopackage.levels import WIDE_CLASSES, WORKS_KINDS, levels_of
from pipeline.publish.geopackage.qgis_parts import (
    ALONG_EDGE,
    ALONG_LINE,
    label,
    rgba,
    rules_renderer,
    single,
    symbol,
    symbol_layer,
)
from pipeline.publish.looks import COLOURS, HALO, INK, SEGMENT_LINE

__all__ = ["draw_segments", "draw_works_areas", "draw_works_lines"]

# streets are named at this scale and larger ones, works at this one
_STREET_NAMES: Final = 7500
_WORKS_NAMES: Final = 15000
# metres on the ground that a street is drawn wide
_WIDE_M: Final = 9
_NARROW_M: Final = 5
# millimetres on the map: least and most that a street is wide, by the worst on it, and how much its casing adds
_WIDTHS: Final = {
    "hazard": (0.9, 1.9), "overdue": (0.8, 1.7), "flagged": (0.65, 1.6), "open": (0.6, 1.6), "order": (0.3, 1.6),
    "none": (0.2, 1.6),
}  # fmt: skip
_QUIET: Final = ("order", "none")
_CASING: Final = 0.35
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
        return single(symbol(0, "line", [_street(SEGMENT_LINE, width, _WIDTHS["order"], 0)])), names
    rules = []
    earlier: list[str] = []
    for number, level in enumerate(levels):
        here = " OR ".join(f'"{name}" > 0' for name in level.counts)
        where = " AND ".join([*(f"NOT ({one})" for one in earlier), *([f"({here})"] if here else [])])
        # the casings of a level below its lines, so that crossings are open; what is urgent on top
        first = 3 * (len(levels) - number)
        rules.append((level.name, level.title, where, symbol(number, "line", _cased(level.name, width, first))))
        earlier.append(here)
    return rules_renderer("streets", rules, has_levels=True), names


def draw_works_areas(columns: Collection[str]) -> tuple[Element, Element | None]:
    """Return how works that are drawn as areas look: an outline, thinly shaded."""
    rules = [
        (kind, title, f"\"kind\" = '{kind}'", symbol(number, "fill", [_area(kind)]))
        for number, (kind, title) in enumerate(WORKS_KINDS.items())
    ]
    return rules_renderer("works", rules), _works_names(columns, ALONG_EDGE)


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
    # QGIS knows no CASE with a value after it
    own = " ".join(f"WHEN \"kind\" = '{kind}' THEN '{COLOURS[f'works-{kind}']}'" for kind in WORKS_KINDS)
    return label(
        'coalesce("name", "works_id")', COLOURS["works-planned"], where, _WORKS_NAMES, size=8, priority=8,
        colour_by=f"CASE {own} END" if "kind" in columns else None,
    )  # fmt: skip


def _cased(level: str, width: str | None, first: int) -> list[Element]:
    """Return the layers of a street: its casing, its line, and dots along it where there is a hazard."""
    least, most = _WIDTHS[level]
    casing = COLOURS["casing-quiet" if level in _QUIET else "casing"]
    layers = [
        _street(casing, width, (least + _CASING, most + _CASING), first),
        _street(COLOURS[f"street-{level}"], width, (least, most), first + 1),
    ]
    if level == "hazard":
        layers.append(
            symbol_layer(
                "SimpleLine",
                {
                    "line_color": rgba(HALO), "line_style": "solid", "capstyle": "flat", "joinstyle": "round",
                    "line_width": 0.45, "line_width_unit": "MM", "use_custom_dash": 1, "customdash": "0.7;1.1",
                    "customdash_unit": "MM",
                },
                level=first + 2,
            )
        )  # fmt: skip
    return layers


def _street(colour: str, width: str | None, limits: tuple[float, float], level: int) -> Element:
    least, most = limits
    return symbol_layer(
        "SimpleLine",
        {
            "line_color": rgba(colour), "line_style": "solid", "capstyle": "round", "joinstyle": "round",
            "line_width": 6, "line_width_unit": "RenderMetersInMapUnits",
            "width_map_unit_scale": f"3x:0,0,1,{least:.2f},1,{most:.2f}",
        },
        None if width is None else {"outlineWidth": width},
        level=level,
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
