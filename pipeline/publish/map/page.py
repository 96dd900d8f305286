"""The map: one HTML file that opens from disk with the network off.

Every text of a register or layer enters as JSON or packed data, which the scripts show as plain text; folium is given
outlines alone.
"""

import datetime as dt
import html
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from importlib import resources
from typing import Any, Final, NamedTuple

import geopandas as gpd
import pandas as pd

from pipeline.clock import Counted, uncounted
from pipeline.contracts import CORE_STATES, URGENCIES
from pipeline.errors import ContractError
from pipeline.history import KINDS
from pipeline.programme.cautions import CoreCautions, cautions_by_state
from pipeline.programme.street_words import shipped_short_words
from pipeline.publish.looks import colour_variables, dark_variables, looks_for_scripts
from pipeline.publish.map.assets_in_order import SCRIPTS, STYLE_SHEETS
from pipeline.publish.map.cards import pack_cards
from pipeline.publish.map.cores import (
    HAZARD,
    UNKNOWN_STATE_RULES,
    count_statuses,
    pack_drawing,
    page_order,
    position_step,
    symbol_zooms,
    to_json,
)
from pipeline.publish.map.districts import outline_districts, pack_district_rows
from pipeline.publish.map.first_view import first_view
from pipeline.publish.map.frame import draw_frame
from pipeline.publish.map.grid import fit_grid
from pipeline.publish.map.leaflet import read_script, read_style_sheet
from pipeline.publish.map.one_of_many import link_to_index, map_words
from pipeline.publish.map.packing import Ints, shown_text
from pipeline.publish.map.plain_list import draw_plain_list
from pipeline.publish.map.road_lines import RoadLines, lines_of
from pipeline.publish.map.roads import pack_roads, roads_drawn
from pipeline.publish.map.squeezing import Squeeze, Squeezer, squeezed
from pipeline.publish.map.template import fill, policy_of
from pipeline.publish.map.works import pack_works
from pipeline.publish.words import Words, load_words, words_of

__all__ = ["Background", "MapInput", "SharedParts", "draw_map", "shared_parts"]

# a fifth of the scripts; a test holds that no text in them runs over several lines
_NOT_NEEDED: Final = re.compile(r"^[ \t]*//.*\n|^[ \t]+", re.MULTILINE)
# what is known of each core: for the first screen, and for all that a reader must ask for
_CARDS: Final = ("card_data", "detail_data")
# as they are counted: the lines of the roads, the frame, the cards, the drawing of cores, and that of roads
_PARTS: Final = 5
# degrees, about 100 m: a network of one short street, or one core alone, still gets some road around it
_LEAST_SPAN: Final = 0.001


@dataclass(frozen=True)
class Background:
    """Pictures from the network behind the map, off until the reader asks: an https address with {z}, {x}, {y}."""

    url: str
    credit: str = ""

    @property
    def host(self) -> str:
        """Return the origin that the page's policy lets pictures in from."""
        return "https://" + self.url.removeprefix("https://").partition("/")[0]


@dataclass(frozen=True)
class MapInput:
    """What the map shows; positions and geometry in EPSG:4326, every text untrusted.

    Any column of ``cores`` but those of ``HANDED_ALWAYS`` may be left out, and ``orders`` may be None: the page then
    holds nothing of them. ``segments``: in any CRS that they state. ``core_cautions``: for the cards; None for none.
    ``since``: day of the run before, and ``changes`` (``row``, ``change``): what changed since, one row per change;
    None without a run before. ``works``: planned works, protected streets and resurfaced roads (``works_id``,
    ``kind``, ``name``, ``on``, ``until``, geometry), and ``in_works`` (``row``, ``works_id``): the cores in each; None
    without. ``reader``: "utility" or "authority", whose view the sentences take. ``short_words``: the short form of
    each long word of street names; those of ``config/street_words.toml`` where none are given. ``has_report``: whether
    the run has a report, ``report``: its address from the map, and ``report_districts`` and ``report_streets``: the
    districts and streets that have a row in it. ``to_index``: address of the page with the maps of all districts; empty
    where this is the only map.
    """

    title: str
    as_of: dt.date
    crs: str
    cores: pd.DataFrame
    findings: pd.DataFrame
    segments: gpd.GeoDataFrame
    districts: gpd.GeoDataFrame | None
    orders: pd.DataFrame | None
    unplaced: int
    sources: list[str]
    cautions: list[str]
    background: Background | None = None
    units: str = "metric"
    language: str = "en"
    core_cautions: CoreCautions | None = None
    since: dt.date | None = None
    changes: pd.DataFrame | None = None
    works: gpd.GeoDataFrame | None = None
    in_works: pd.DataFrame | None = None
    reader: str = "utility"
    short_words: Mapping[str, str] = field(default_factory=dict)
    has_report: bool = False
    report: str = "report.html"
    report_districts: Sequence[str] = ()
    report_streets: Sequence[str] = ()
    to_index: str = ""


class SharedParts(NamedTuple):
    """What several maps of the same roads share, so that it is made once: the lines, and what is compressed."""

    lines: RoadLines
    squeeze: Squeeze


def shared_parts(view: MapInput) -> SharedParts:
    """Return what the map of this view shares with others."""
    return SharedParts(lines_of(roads_drawn(view.segments, view.cores)), Squeezer())


def draw_map(view: MapInput, shared: SharedParts | None = None, tell: Counted = uncounted) -> str:
    """Return the whole page; the same input gives the same text, whatever is shared.

    Parameters
    ----------
    view
        What the map shows.
    shared
        From this map or another one of the same roads; None where there is no other.
    tell
        Is told how much of the page is drawn.

    Raises
    ------
    ContractError
        ``view.unplaced`` is not the number of cores without a position, a status is unknown, or a finding is about a
        row that is not in the cores.
    OutputError
        Another version of Leaflet is installed.
    SettingsError
        There are no words for the language.
    """
    order, placed = _order_of(view)
    sentences = load_words(view.language)
    words = map_words(sentences, is_one_of_many=bool(view.to_index))
    language = words_of(view.language, sentences)
    tell(0, _PARTS, "parts")
    drawn_roads = roads_drawn(view.segments, view.cores)
    lines = lines_of(drawn_roads, None if shared is None else shared.lines)
    tell(1, _PARTS, "parts")
    outlines, places = outline_districts(view.districts)
    limits = first_view(view.cores, view.districts, lines.vertices)
    frame = draw_frame(outlines, limits)
    template = _read_asset("page.html")
    parts = _static_parts(words) | {
        "lang": html.escape(view.language),
        "title": html.escape(shown_text(view.title).encode("utf-8", "replace").decode()),
        "about_positions": html.escape(str(words["about.positions"]).format(cm=2 * position_step(placed))),
        "to_index": link_to_index(view.to_index, language),
        "about_network": html.escape(_about_network(view, words)),
        "plain_list": draw_plain_list(view.title, view.cores, view.findings, view.as_of, language),
        "map_element": frame.element,
        "map_frame": frame.script,
        "page_data": to_json(
            {
                **_page_data(view),
                "unplaced": count_statuses(view.cores[["status"]].iloc[order[placed:]]),
                "roads": {"drawn": len(drawn_roads), "all": len(view.segments)},
                "hasDistricts": bool(outlines),
                "zooms": symbol_zooms(view.cores, order, placed),
                "grid": None if limits is None else fit_grid(view.crs, limits),
                "districts": pack_district_rows(view.cores, view.orders, places),
                "rules": _rules(view, language),
                "words": words,
            }
        ),
        **_packed(view, order, placed, drawn_roads, lines, squeezed if shared is None else shared.squeeze, tell),
    }
    host = None if view.background is None else view.background.host
    return fill(template, parts | {"csp": policy_of(template, parts, host)})


def _order_of(view: MapInput) -> tuple[Ints, int]:
    """Return the rows of the cores in the page's order, and how many have a position."""
    order, placed = page_order(view.cores)
    if view.unplaced != len(view.cores) - placed:
        raise ContractError(
            f"map: {view.unplaced} cores without a position expected, {len(view.cores) - placed} found."
        )
    return order, placed


def _packed(
    view: MapInput, order: Ints, placed: int, drawn_roads: gpd.GeoDataFrame, lines: RoadLines, squeeze: Squeeze,
    tell: Counted,
) -> dict[str, str]:  # fmt: skip
    """Return the data of cores and roads."""
    tell(2, _PARTS, "parts")
    cards = pack_cards(view.cores, view.findings, order, view.changes, view.in_works, squeeze, tell)
    tell(3, _PARTS, "parts")
    core_data = pack_drawing(view.cores, view.findings, order, placed, drawn_roads["segment_id"], squeeze)
    tell(4, _PARTS, "parts")
    road_data = pack_roads(drawn_roads, view.cores, lines, squeeze)
    return {"core_data": core_data, "road_data": road_data, **dict(zip(_CARDS, cards, strict=True))}


def _static_parts(words: Mapping[str, Any]) -> dict[str, str]:
    """Return what is the same in every map of a language: its sentences, scripts, style sheets, Leaflet."""
    said = {key.replace(".", "_"): html.escape(text) for key, text in words.items() if isinstance(text, str)}
    return {
        **{f"say_{key}": text for key, text in said.items()},
        "leaflet_css": read_style_sheet(),
        "leaflet_js": read_script(),
        # folium's own lines are few, but its licence asks for its notice with any part of it
        "leaflet_licence": html.escape(_read_asset("leaflet_licence.txt")),
        "folium_licence": html.escape(_read_asset("folium_licence.txt")),
        "map_css": colour_variables() + dark_variables() + _compact(STYLE_SHEETS),
        "map_js": _compact(SCRIPTS),
    }


def _compact(names: Iterable[str]) -> str:
    """Return scripts or style sheets one after another, without indentation and lines of comment."""
    return "\n".join(_NOT_NEEDED.sub("", _read_asset(name)) for name in names)


def _page_data(view: MapInput) -> dict[str, Any]:
    """Return the run's facts that need no work, and how things look, for the scripts."""
    background = view.background
    return {
        "title": shown_text(view.title),
        "asOf": view.as_of.isoformat(),
        "crs": shown_text(view.crs),
        "cores": len(view.cores),
        "hasOrders": view.orders is not None,
        "report": view.report if view.has_report else None,
        "reportDistricts": [shown_text(district) for district in view.report_districts],
        "reportStreets": [shown_text(street) for street in view.report_streets],
        "sources": [shown_text(source) for source in view.sources],
        "cautions": [shown_text(caution) for caution in view.cautions],
        "background": None if background is None else {"url": background.url, "credit": background.credit},
        "coreCautions": None if view.core_cautions is None else _card_cautions(view.cores, view.core_cautions),
        "hazards": int(view.cores["urgency"].eq(HAZARD).sum()) if "urgency" in view.cores else 0,
        "states": CORE_STATES,
        "urgencies": URGENCIES,
        "units": view.units,
        "since": None if view.since is None else view.since.isoformat(),
        "changeKinds": list(KINDS),
        "works": [] if view.works is None else pack_works(view.works),
        "reader": view.reader,
        "shortWords": dict(view.short_words or shipped_short_words()),
        "unknownStateRules": list(UNKNOWN_STATE_RULES),
        "looks": looks_for_scripts(),
    }


def _card_cautions(cores: pd.DataFrame, cautions: CoreCautions) -> dict[str, Any]:
    """Return the cautions for cards: different lines once, which of them by state and surface, and those on lifting."""
    ways = pd.DataFrame({name: cores.get(name) for name in ("state", "surface")}, index=cores.index)
    numbers: dict[str, int] = {}
    by: dict[str, dict[str, list[int]]] = {}
    for state, surface in ways.fillna("").astype("str").drop_duplicates().sort_values(["state", "surface"]).to_numpy():
        lines = cautions_by_state(cautions, state, surface)
        by.setdefault(state, {})[surface] = [numbers.setdefault(shown_text(line), len(numbers)) for line in lines]
    lifting = cautions.lifting
    return {
        "lines": list(numbers),
        "by": by,
        "byMachine": lifting.by_machine,
        "byHand": lifting.by_hand,
        "notKnown": lifting.not_known,
        "mostByHand": lifting.most_by_hand.value,
    }


def _rules(view: MapInput, words: Words) -> dict[str, str]:
    return {shown_text(slug): shown_text(words.rule(slug)) for slug in sorted(view.findings["rule"].unique())}


def _about_network(view: MapInput, words: dict[str, Any]) -> str:
    if view.background is None:
        return str(words["about.offline"])
    return str(words["about.online"]).format(host=view.background.host)


def _read_asset(name: str) -> str:
    return (resources.files("pipeline.publish.map") / "assets" / name).read_text(encoding="utf-8")
