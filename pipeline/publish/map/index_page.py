"""The page that leads to the map of each district: a picture of the districts to choose from, and a table."""

from collections.abc import Sequence
from typing import Any, Final, NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from markupsafe import Markup, escape

from pipeline.contracts import OPEN_STATES, STATUSES
from pipeline.publish.looks import COLOURS, DISTRICT_LINE, HALO, INK, STATUS_LOOKS
from pipeline.publish.map.by_district import MapPlaces
from pipeline.publish.map.page import MapInput
from pipeline.publish.pages.page import render_page, script_of
from pipeline.publish.pages.svg import LETTER, LETTER_WIDE, TYPEFACE
from pipeline.publish.words import Words, plain_text, title_text, words_of

__all__ = ["DistrictMap", "district_map", "draw_index"]

# units of the picture, as wide as the page's text is in pixels
_WIDE: Final = 800.0
_HIGHEST: Final = 700.0
# a point that moves an outline by less than this cannot be seen
_TOLERANCE: Final = 0.5
# ends of the shares that have a colour each, and how much of the colour of flagged cores they have
_SHARES: Final = (0.0, 0.1, 0.25, 0.5)
_TINTS: Final = (0.0, 0.16, 0.34, 0.56, 0.85)
# as many districts are named in the picture; of more, names would be too close to read
_MOST_NAMED: Final = 150


class DistrictMap(NamedTuple):
    """A district on the index: its name, None for the cores in none; the stem of its map; its number of cores.

    ``open_cores``, ``hazards``, ``overdue``: None where the table of cores does not say.
    """

    name: str | None
    stem: str
    counts: dict[str, int]
    open_cores: int | None
    hazards: int | None
    overdue: int | None

    @property
    def cores(self) -> int:
        """The number of its cores."""
        return sum(self.counts.values())


def district_map(name: str | None, stem: str, cores: pd.DataFrame) -> DistrictMap:
    """Return what the index shows of a district and its N cores."""
    status = cores["status"].value_counts()
    urgency = cores["urgency"].value_counts() if "urgency" in cores else None
    return DistrictMap(
        name,
        stem,
        {one: int(status.get(one, 0)) for one in STATUSES},
        int(cores["state"].isin(OPEN_STATES).sum()) if "state" in cores else None,
        None if urgency is None else int(urgency.get("hazard", 0)),
        None if urgency is None else int(urgency.get("overdue", 0)),
    )


def draw_index(view: MapInput, maps: Sequence[DistrictMap], places: MapPlaces) -> str:
    """Return the page; the same input gives the same text.

    Parameters
    ----------
    view
        What a map of everything would show; of it only title, day, language, districts and sources are used.
    maps
        The districts that have a map.
    places
        Where the maps are.
    """
    words = words_of(view.language)
    by_name = {one.name: one for one in maps}
    empty = [] if view.districts is None else sorted({*view.districts["district"].dropna().astype("str")} - {*by_name})
    return render_page(
        "map-index.html",
        words,
        name=view.title,
        as_of=view.as_of,
        cores=sum(one.cores for one in maps),
        picture=None if view.districts is None else _picture(view.districts, by_name, places, words),
        rows=[_row(one, places, words) for one in maps],
        has_states=all(one.open_cores is not None for one in maps),
        has_urgencies=all(one.hazards is not None for one in maps),
        empty=[words.own(name, 60) for name in empty],
        sources=view.sources,
        cautions=view.cautions,
        script=script_of("map-index.js"),
    )


def _row(one: DistrictMap, places: MapPlaces, words: Words) -> dict[str, Any]:
    return {
        "name": words.say("format.no_district") if one.name is None else words.own(one.name, 60),
        # as the map's own address writes it
        "choice": "" if one.name is None else f"={one.name}",
        "link": places.of(one.stem),
        "cores": one.cores,
        "counts": one.counts,
        "open": one.open_cores,
        "hazards": one.hazards,
        "overdue": one.overdue,
        "share": words.percent(one.counts["flagged"] / one.cores),
    }


def _picture(
    districts: gpd.GeoDataFrame, maps: dict[str | None, DistrictMap], places: MapPlaces, words: Words
) -> Markup | None:
    """Return the outlines of the districts, each a link to its map; None where no district has a shape."""
    outlines = districts.geometry.to_numpy()
    named = districts[districts["district"].notna() & ~(shapely.is_missing(outlines) | shapely.is_empty(outlines))]
    shapes = named.geometry.to_numpy()
    if not len(shapes):
        return None
    west, south, east, north = shapely.total_bounds(shapes)
    # metres across and along are alike at the middle of the network
    squeeze = np.cos(np.radians((south + north) / 2))
    across, along = max((east - west) * squeeze, 1e-9), max(north - south, 1e-9)
    scale = min(_WIDE / across, _HIGHEST / along)
    drawn = shapely.transform(
        shapes, lambda spots: np.column_stack([(spots[:, 0] - west) * squeeze, north - spots[:, 1]]) * scale
    )
    drawn = shapely.simplify(drawn, _TOLERANCE, preserve_topology=True)
    links: list[str] = []
    letters: list[str] = []
    order = sorted(range(len(named)), key=lambda at: (str(named["district"].iloc[at]), at))
    for at in order:
        name = str(named["district"].iloc[at])
        links.append(_outline(drawn[at], maps.get(name), places, words, name))
        if len(order) <= _MOST_NAMED:
            letters += _letters(drawn[at], name)
    # a network that is higher than wide is not enlarged to the width of the page
    aside = (_WIDE - across * scale) / 2
    size = f'viewBox="{-aside - 2:.0f} -2 {_WIDE + 4:.0f} {along * scale + 4:.0f}"'
    about = escape(words.plainly("district_maps.picture"))
    return Markup(  # noqa: S704 - every text in it is escaped
        f'<svg class="chart" width="100%" {size} role="group" aria-label="{about}" font-family="{TYPEFACE}" '
        f'font-size="{LETTER}">{"".join(links)}{"".join(letters)}</svg>{_legend(words)}'
    )


def _outline(shape: shapely.Geometry, one: DistrictMap | None, places: MapPlaces, words: Words, name: str) -> str:
    areas = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    rings = [ring for area in areas for ring in (area.exterior, *area.interiors)]
    path = "".join(
        "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in shapely.get_coordinates(ring)[:-1].tolist()) + "Z"
        for ring in rings
    )
    share = None if one is None else one.counts["flagged"] / one.cores
    outline = (
        f'<path d="{path}" fill="{_colour(share)}" fill-rule="evenodd" stroke="{DISTRICT_LINE}" stroke-width="1"/>'
    )
    if one is None or share is None:
        said = words.plainly("district_maps.tip_empty", name=plain_text(name))
        return f"<g><title>{escape(said)}</title>{outline}</g>"
    said = words.plainly("district_maps.tip", n=one.cores, name=plain_text(name), share=words.percent(share))
    choice = escape(f"={name}")
    return (
        f'<a class="to-map" href="{places.of(one.stem)}" data-choice="{choice}">'
        f"<title>{escape(said)}</title>{outline}</a>"
    )


def _letters(shape: shapely.Geometry, name: str) -> list[str]:
    """Return the name of a district, if it fits into its outline."""
    spot = shapely.point_on_surface(shape)
    shown = title_text(name, 40)
    half = len(shown) * LETTER_WIDE / 2
    box = shapely.box(spot.x - half, spot.y - LETTER / 2, spot.x + half, spot.y + LETTER / 2)
    if not shape.contains(box):
        return []
    return [
        (
            f'<text x="{spot.x:.1f}" y="{spot.y + LETTER / 3:.1f}" text-anchor="middle" fill="{INK}" stroke="{HALO}" '
            f'stroke-width="3" paint-order="stroke" aria-hidden="true" pointer-events="none">{escape(shown)}</text>'
        )
    ]


def _colour(share: float | None) -> str:
    """Return the colour of a share of flagged cores: the more, the darker; that of the ground where there is none."""
    if share is None:
        return COLOURS["ground"]
    return _tint(_TINTS[int(np.searchsorted(_SHARES, share, side="left"))])


def _tint(part: float) -> str:
    """Return the colour of flagged cores thinned with white."""
    full = [int(STATUS_LOOKS["flagged"].fill[at : at + 2], 16) for at in (1, 3, 5)]
    return "#" + "".join(f"{round(255 - part * (255 - value)):02x}" for value in full)


def _legend(words: Words) -> str:
    """Return which colour is which share."""
    lines = [words.plainly("district_maps.none_flagged")]
    lines += [words.plainly("district_maps.up_to", share=words.percent(end)) for end in _SHARES[1:]]
    lines.append(words.plainly("district_maps.over", share=words.percent(_SHARES[-1])))
    keys = [
        f'<span class="key"><svg width="14" height="14" aria-hidden="true"><rect x="1" y="1" width="12" height="12" '
        f'fill="{_tint(part)}" stroke="{DISTRICT_LINE}"/></svg> {escape(shown)}</span>'
        for part, shown in zip(_TINTS, lines, strict=True)
    ]
    return f'<p class="small">{"".join(keys)}</p>'
