"""The map: one HTML file that opens from disk with the network off.

folium makes the map and draws the district outlines. It compiles what it is given as a template, twice, so it
is given geometry and constants only. Every text of a register or layer enters afterwards, as JSON that the
page shows through ``textContent``.
"""

import base64
import datetime as dt
import hashlib
import html
import re
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Any

import folium
import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
from branca.element import Figure
from folium.template import Template

from pipeline.errors import ContractError, OutputError
from pipeline.publish.map.cores import count_statuses, pack_cards, pack_drawing, page_order, position_step, to_json
from pipeline.publish.map.districts import outline_districts, pack_district_rows
from pipeline.publish.map.packing import shown_text
from pipeline.publish.map.plain_list import draw_plain
from pipeline.publish.map.roads import choose_roads, pack_roads
from pipeline.publish.words import MAP_TABLES, load_words

__all__ = ["Background", "MapInput", "draw_map"]

LEAFLET_SHA256 = {
    "leaflet.js": "db49d009c841f5ca34a888c96511ae936fd9f5533e90d8b2c4d57596f4e5641a",
    "leaflet.css": "a7837102824184820dfa198d1ebcd109ff6d0ff9a2672a074b9a1b4d147d04c6",
}
# In the order they must run: each uses only what stands before it.
SCRIPTS = (
    "words.js",
    "dom.js",
    "unpack.js",
    "measures.js",
    "roads.js",
    "symbols.js",
    "cores.js",
    "tiles.js",
    "attributes.js",
    "order.js",
    "filter.js",
    "ask.js",
    "card.js",
    "lists.js",
    "sheet.js",
    "table.js",
    "link.js",
    "panel.js",
    "pointer.js",
    "layers.js",
    "paper.js",
    "map.js",
)
PLACEHOLDER = re.compile(r"@@(\w+)@@")
OUTLINE = {
    "color": "#5a4a86",
    "weight": 1.6,
    "opacity": 0.85,
    "dashArray": "6 4",
    "fill": False,
    "interactive": False,
}
# A network of one short street, or one core alone, still gets some road around it (degrees, about 100 m).
LEAST_SPAN = 0.001
CLOSEST_FIRST_VIEW = 18
CLOSEST_VIEW = 22


@dataclass(frozen=True)
class Background:
    """Pictures from the network behind the map, off until the reader asks: an https address with {z}, {x}, {y}."""

    url: str
    credit: str = ""

    @property
    def host(self) -> str:
        """The origin that the page's policy lets pictures in from."""
        return "https://" + self.url.removeprefix("https://").partition("/")[0]


@dataclass(frozen=True)
class MapInput:
    """What the map shows; geometry and positions in EPSG:4326, every text untrusted.

    Of ``cores`` any column but those of ``HANDED_ALWAYS`` may be left out, and ``orders`` may be None: the page then
    knows nothing of them.
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


class _OfflineMap(folium.Map):
    """A folium map without its links; lists of its own, since folium shares one between all maps."""

    default_js: list[tuple[str, str]] = []  # noqa: RUF012
    default_css: list[tuple[str, str]] = []  # noqa: RUF012


class _Page(Figure):
    """Our own document around folium's parts; folium's header, which forbids zooming, is left out."""

    _template = Template((resources.files("pipeline.publish.map") / "assets" / "page.html").read_text(encoding="utf-8"))


def draw_map(view: MapInput) -> str:
    """Return the whole page; the same input gives the same text."""
    order, placed = page_order(view.cores)
    if view.unplaced != len(view.cores) - placed:
        msg = f"map: {view.unplaced} unplaced expected, {len(view.cores) - placed} cores without a position found."
        raise ContractError(msg)
    words = load_words(view.language, MAP_TABLES)
    chosen = view.segments.iloc[choose_roads(view.segments, view.cores)]
    roads, vertices = pack_roads(chosen)
    outlines, places = outline_districts(view.districts)
    page = {
        "title": shown_text(view.title),
        "asOf": view.as_of.isoformat(),
        "crs": shown_text(view.crs),
        "cores": len(view.cores),
        "unplaced": count_statuses(view.cores[["status"]].iloc[order[placed:]]),
        "roads": {"drawn": len(chosen), "all": len(view.segments)},
        "hasDistricts": bool(outlines),
        "hasOrders": view.orders is not None,
        "districts": pack_district_rows(view.cores, view.orders, places),
        "sources": [shown_text(source) for source in view.sources],
        "cautions": [shown_text(caution) for caution in view.cautions],
        "background": None
        if view.background is None
        else {"url": view.background.url, "credit": view.background.credit},
        "units": view.units,
        "words": words,
    }
    rendered = _render_with_folium(outlines, _first_view(view, vertices))
    parts = {f"say_{key.replace('.', '_')}": html.escape(said) for key, said in words.items() if isinstance(said, str)}
    parts |= {
        "lang": html.escape(view.language),
        "title": html.escape(shown_text(view.title).encode("utf-8", "replace").decode()),
        "about_drawn": html.escape(str(words["about.drawn"]).format(cm=2 * position_step(placed))),
        "about_whole": html.escape(_about(view, words)),
        "plain": draw_plain(view.title, view.cores, view.findings, view.as_of.isoformat(), words),
        "leaflet_css": _read_leaflet_css(),
        "leaflet_js": _read_leaflet("leaflet.js").partition("//# sourceMappingURL")[0],
        "leaflet_licence": html.escape(_read_asset("leaflet_licence.txt")),
        "map_css": _read_asset("map.css"),
        "map_js": "\n".join(_read_asset(name) for name in SCRIPTS),
        "page_data": to_json(page),
        "core_data": pack_drawing(view.cores, view.findings, order, placed),
        "road_data": roads,
        "card_data": pack_cards(view.cores, view.findings, order),
    }
    parts["csp"] = _write_policy(rendered, parts, view.background)
    return _fill(rendered, parts)


def _about(view: MapInput, words: dict[str, Any]) -> str:
    if view.background is None:
        return str(words["about.whole"])
    return str(words["about.whole_online"]).format(host=view.background.host)


def _fill(text: str, parts: dict[str, str]) -> str:
    # One pass: a chain of replacements would let a register cell name the next placeholder.
    return PLACEHOLDER.sub(lambda found: parts[found[1]], text)


def _write_policy(rendered: str, parts: dict[str, str], background: Background | None) -> str:
    """Return the content security policy that lets in the page's own inline scripts and styles alone."""
    hashes = {}
    for tag in ("script", "style"):
        bodies = re.findall(rf"<{tag}>(.*?)</{tag}>", rendered, flags=re.DOTALL)
        digests = [hashlib.sha256(_fill(body, parts).encode()).digest() for body in bodies]
        hashes[tag] = " ".join(f"'sha256-{base64.b64encode(digest).decode()}'" for digest in digests)
    pictures = "data:" if background is None else f"data: {background.host}"
    return (
        f"default-src 'none'; script-src {hashes['script']}; style-src {hashes['style']}; "
        f"img-src {pictures}; base-uri 'none'; form-action 'none'"
    )


def _render_with_folium(outlines: list[dict[str, Any]], bounds: list[list[float]] | None) -> str:
    page = _Page()
    # Quarter zooms, or the first view would leave up to half of the screen empty.
    drawn = _OfflineMap(
        tiles=None,
        location=(0.0, 0.0),
        zoom_start=2,
        max_bounds=False,
        maxZoom=CLOSEST_VIEW,
        zoomSnap=0.25,
    )
    # folium names its variables at random; ours are fixed, for the page's script and for equal bytes.
    drawn._id = "kerfbook"  # noqa: SLF001
    page.add_child(drawn)
    if outlines:
        layer = folium.GeoJson(
            {"type": "FeatureCollection", "features": outlines},
            style_function=lambda _: OUTLINE,
            control=False,
            smooth_factor=0.5,
        )
        layer._id = "districts"  # noqa: SLF001
        layer.add_to(drawn)
    if bounds is not None:
        drawn.fit_bounds(bounds, padding=(24, 24), max_zoom=CLOSEST_FIRST_VIEW)
    return str(page.render())


def _first_view(view: MapInput, vertices: npt.NDArray[np.float64]) -> list[list[float]] | None:
    """Return the limits of the first view, which no stray core widens."""
    placed = view.cores[np.isfinite(view.cores["lon"]) & np.isfinite(view.cores["lat"])]
    on_road = placed[placed["segment_id"].notna()]
    if len(vertices):
        low, high = np.percentile(vertices, [1, 99], axis=0)
        spots = np.vstack([low, high, on_road[["lon", "lat"]].to_numpy(dtype=np.float64)])
    elif len(placed):
        spots = np.percentile(placed[["lon", "lat"]].to_numpy(dtype=np.float64), [1, 99], axis=0)
    elif view.districts is not None and len(view.districts):
        spots = np.asarray(view.districts.total_bounds).reshape(2, 2)
    else:
        return None
    west, south = spots.min(axis=0) - LEAST_SPAN / 2
    east, north = spots.max(axis=0) + LEAST_SPAN / 2
    if not np.isfinite([west, south, east, north]).all():
        return None
    return [[round(float(south), 6), round(float(west), 6)], [round(float(north), 6), round(float(east), 6)]]


def _read_asset(name: str) -> str:
    return (resources.files("pipeline.publish.map") / "assets" / name).read_text(encoding="utf-8")


def _leaflet_folder() -> Traversable:
    return resources.files("js_lib_leaflet") / "static" / "js_lib_leaflet"


def _read_leaflet(name: str) -> str:
    content = (_leaflet_folder() / name).read_bytes()
    found = hashlib.sha256(content).hexdigest()
    if found != LEAFLET_SHA256[name]:
        msg = (
            f"map: {name} of the package django-js-lib-leaflet has SHA-256 {found}, Leaflet 1.9.4 with "
            f"{LEAFLET_SHA256[name]} expected. Install django-js-lib-leaflet==1.9.4.1."
        )
        raise OutputError(msg)
    # A browser reads a style's text with plain line ends, and hashes that.
    return content.decode("utf-8").replace("\r\n", "\n")


def _read_leaflet_css() -> str:
    """Return Leaflet's style with its pictures inside it, for a page that may fetch nothing."""

    def inline(found: re.Match[str]) -> str:
        picture = base64.b64encode((_leaflet_folder() / "images" / found[1]).read_bytes()).decode()
        return f"url(data:image/png;base64,{picture})"

    return re.sub(r"url\(images/([\w-]+\.png)\)", inline, _read_leaflet("leaflet.css"))
