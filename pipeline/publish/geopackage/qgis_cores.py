"""QGIS's style of cores: a symbol by status, a mark in it by state, a badge beside it by urgency, and ids close in."""

from collections.abc import Collection, Iterator
from typing import Any, Final, NamedTuple
from xml.etree.ElementTree import Element

from pipeline.publish.geopackage.qgis_parts import (
    BESIDE_POINT,
    by_scale,
    label_settings,
    rgba,
    symbol,
    symbol_layer,
)
from pipeline.publish.geopackage.scales import Scales
from pipeline.publish.geopackage.xml_tree import element
from pipeline.publish.looks import HALO, HOLLOW, INK, STATUS_LOOKS, Look
from pipeline.publish.map.cores import UNSURE_RULES

__all__ = ["draw_cores"]

# millimetres on paper or screen: a circle's width far out and close in, and the metres on the ground between the two
_SMALLEST: Final = 2.4
_LARGEST: Final = 4.2
_GROUND_M: Final = 24
_OUTLINE: Final = 0.35
_HALO: Final = 1.0
# of a badge, to the upper right of its symbol
_BADGE: Final = 2.2
_BADGE_AT: Final = (1.4, -1.4)
# ids are written at this scale and larger ones, in points
_LABELS: Final = 1500
_LABEL_SIZE: Final = 7.5
_STATES: Final = {"open": "Open", "plated": "Plated", "interim": "Interim reinstatement", "unknown": "State unknown"}
_URGENCIES: Final = {"hazard": "Hazard to people or to the road", "overdue": "Overdue"}

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


class _Rule(NamedTuple):
    """What is drawn for which cores, from which scale on."""

    key: str
    title: str
    where: str | None
    below: int | None
    layers: list[Element]


def draw_cores(columns: Collection[str], scales: Scales) -> tuple[Element, Element | None]:
    """Return how cores are drawn and labelled; a core has one symbol, and a mark and a badge where it is due them."""
    groups = [
        ("status", "Status", list(_by_status(columns, scales))),
        ("marks", "State and urgency", list(_marks_and_badges(columns, scales))),
    ]
    rules: list[Element] = []
    symbols: list[Element] = []
    for name, title, found in groups:
        drawn = []
        for rule in found:
            where: dict[str, object] = {} if rule.where is None else {"filter": rule.where}
            at = {"key": rule.key, "symbol": len(symbols), "label": rule.title, **where, **by_scale(rule.below)}
            drawn.append(element("rule", at=at))
            symbols.append(symbol(len(symbols), "marker", rule.layers))
        if drawn:
            rules.append(element("rule", *drawn, at={"key": name, "label": title}))
    # what needs attention is drawn last
    order = element("orderby", element("orderByClause", _RANK, at={"asc": 1, "nullsFirst": 1}))
    at = {"type": "RuleRenderer", "enableorderby": int("status" in columns), "symbollevels": 0, "forceraster": 0}
    renderer = element(
        "renderer-v2", element("rules", *rules, at={"key": "cores"}), element("symbols", *symbols), order, at=at
    )
    return renderer, _ids() if "core_id" in columns else None


def _by_status(columns: Collection[str], scales: Scales) -> Iterator[_Rule]:
    if "status" not in columns:
        yield _Rule("core", "Core", None, scales.every, _symbol(STATUS_LOOKS["reinstated"], is_hollow=False))
        return
    for status, look in STATUS_LOOKS.items():
        below = scales.flagged if status == "flagged" else scales.every
        for is_unsure in (False, True) if "findings" in columns else (None,):
            where = f"\"status\" = '{status}'"
            if is_unsure is not None:
                where += f" AND {'' if is_unsure else 'NOT '}{_UNSURE}"
            title = status.capitalize() + (", street, surface or district uncertain" if is_unsure else "")
            key = f"{status}-unsure" if is_unsure else status
            yield _Rule(key, title, where, below, _symbol(look, is_hollow=bool(is_unsure)))


def _marks_and_badges(columns: Collection[str], scales: Scales) -> Iterator[_Rule]:
    if "state" in columns:
        for state, title in _STATES.items():
            yield _Rule(f"state-{state}", title, f"\"state\" = '{state}'", scales.every, _mark_of(state, columns))
    if "urgency" in columns:
        for urgency, title in _URGENCIES.items():
            below = scales.hazard if urgency == "hazard" else scales.flagged
            yield _Rule(urgency, title, f"\"urgency\" = '{urgency}'", below, _badge(urgency))


def _ids() -> Element:
    """Return ids close in; at every other scale a core is kept clear of the names of streets and works.

    QGIS takes a feature for an obstacle only while its own label could be drawn: below its scale a label takes no part.
    """
    ids = label_settings('"core_id"', INK, BESIDE_POINT, None, size=_LABEL_SIZE, priority=3)
    kept_clear = label_settings('"core_id"', INK, BESIDE_POINT, None)
    drawn = kept_clear.find("rendering")
    assert drawn is not None
    drawn.set("drawLabels", "0")
    rules = [
        element("rule", ids, at={"key": "ids", "description": "Ids", **by_scale(_LABELS)}),
        element(
            "rule",
            kept_clear,
            at={"key": "clear", "description": "No name over a core", "scalemaxdenom": 0, "scalemindenom": _LABELS},
        ),
    ]
    return element("labeling", element("rules", *rules, at={"key": "labels"}), at={"type": "rule-based"})


def _symbol(look: Look, *, is_hollow: bool) -> list[Element]:
    layers = [
        _shape(look, HALO, HALO, look.size, _HALO),
        _shape(look, look.fill, look.outline, look.size, _OUTLINE),
    ]
    if is_hollow:
        layers.append(_shape(look, HALO, look.outline, look.size * HOLLOW, _OUTLINE))
    return layers


def _shape(look: Look, fill: str, line: str, size: float, width: float) -> Element:
    smallest, largest = _SMALLEST * size, _LARGEST * size
    return _marker(
        look.gis_marker, fill, line, width,
        {
            # so many metres on the ground, but never smaller or larger than legible
            "size": f"{_GROUND_M * size:.3f}", "size_unit": "RenderMetersInMapUnits",
            "size_map_unit_scale": f"3x:0,0,1,{smallest:.3f},1,{largest:.3f}",
        },
    )  # fmt: skip


def _marker(
    name: str, fill: str, line: str, width: float, settings: dict[str, Any], by: dict[str, str] | None = None
) -> Element:
    look: dict[str, object] = {
        "name": name, "color": rgba(fill), "joinstyle": "round", "outline_color": rgba(line),
        "outline_style": "solid" if width else "no", "outline_width": width, "outline_width_unit": "MM",
        "scale_method": "diameter",
    }  # fmt: skip
    return symbol_layer("SimpleMarker", look | settings, by)


def _mark_of(state: str, columns: Collection[str]) -> list[Element]:
    """Return the mark inside a symbol: a hole, a plate across it, a hole half filled, two dots where it is unknown."""
    white = "\"status\" = 'flagged'" + (f" AND NOT {_UNSURE}" if "findings" in columns else "")
    colour = f"CASE WHEN {white} THEN '{HALO}' ELSE '{INK}' END" if "status" in columns else f"'{INK}'"
    by = {"fillColor": colour, "outlineColor": colour}

    def mark(name: str, size: float, width: float = 0, at: float = 0, angle: int = 0) -> Element:
        # the middle of a triangle lies lower than that of its box
        settings = {"size": size, "size_unit": "MM", "offset": f"{at},0.15", "offset_unit": "MM", "angle": angle}
        return _marker(name, INK, INK, width, settings, by)

    return {
        "open": lambda: [mark("circle", 0.8)],
        "plated": lambda: [mark("line", 1.3, 0.5, angle=90)],
        "interim": lambda: [mark("semi_circle", 1.2, angle=180)],
        "unknown": lambda: [mark("circle", 0.5, at=-0.4), mark("circle", 0.5, at=0.4)],
    }[state]()


def _badge(urgency: str) -> list[Element]:
    """Return a badge: an exclamation mark for a hazard, the hands of a clock for what is overdue."""
    x, y = _BADGE_AT

    def part(name: str, colour: str, size: float, width: float, at: tuple[float, float], angle: int = 0) -> Element:
        settings = {
            "size": size, "size_unit": "MM", "offset": f"{x + at[0]:.2f},{y + at[1]:.2f}", "offset_unit": "MM",
            "angle": angle,
        }  # fmt: skip
        return _marker(name, colour, HALO, width, settings)

    ground = part("circle", INK, _BADGE, 0.25, (0, 0))
    if urgency == "hazard":
        return [ground, part("line", HALO, 0.9, 0.35, (0, -0.25)), part("circle", HALO, 0.36, 0, (0, 0.6))]
    return [ground, part("line", HALO, 0.75, 0.28, (0, -0.36)), part("line", HALO, 0.5, 0.28, (0.22, 0.1), 120)]
