"""The map's frame, by folium: the element it is drawn in, the first view and the district outlines.

folium compiles what it is given as a template, twice, so it is given geometry and constants only. Its page header is
not used: it links to the network and forbids zooming.
"""

import re
from collections.abc import Sequence
from typing import Any, Final, NamedTuple

from pipeline.publish.looks import DISTRICT_LINE

__all__ = ["Frame", "draw_frame"]

# what the page's scripts and the browser's address bar know the map and its outlines by
_MAP_NAME: Final = "map_kerfbook"
_OUTLINES_NAME: Final = "geo_json_districts"
_OUTLINE: Final = {
    "color": DISTRICT_LINE,
    "weight": 1.6,
    "opacity": 0.85,
    "dashArray": "6 4",
    "fill": False,
    "interactive": False,
}
_CLOSEST_FIRST_VIEW: Final = 18
_CLOSEST_VIEW: Final = 22


class Frame(NamedTuple):
    """The element that holds the map, and the script that fills it."""

    element: str
    script: str


def draw_frame(outlines: list[dict[str, Any]], bounds: Sequence[Sequence[float]] | None) -> Frame:
    """Return the map's element and script; the same input gives the same text.

    Parameters
    ----------
    outlines
        GeoJSON features in EPSG:4326, without properties.
    bounds
        South-west and north-east corner of the first view, latitude first; None shows the world.
    """
    import folium  # noqa: PLC0415 - it takes longer to load than most commands, few of which draw a map

    # quarter zoom levels, or the first view would leave up to half of the screen empty
    drawn = folium.Map(
        tiles=None, location=(0.0, 0.0), zoom_start=2, max_bounds=False, maxZoom=_CLOSEST_VIEW, zoomSnap=0.25
    )
    names = {drawn.get_name(): _MAP_NAME}
    if outlines:
        layer = folium.GeoJson(
            {"type": "FeatureCollection", "features": outlines},
            style_function=lambda _: _OUTLINE,
            control=False,
            smooth_factor=0.5,
        ).add_to(drawn)
        names[layer.get_name()] = _OUTLINES_NAME
    if bounds is not None:
        drawn.fit_bounds(bounds, padding=(24, 24), max_zoom=_CLOSEST_FIRST_VIEW)
    figure = folium.Figure()
    figure.add_child(drawn)
    figure.render()
    # folium names its variables at random; ours are fixed, for the page's scripts and for equal bytes
    random_name = re.compile("|".join(map(re.escape, names)))
    element, script = (
        random_name.sub(lambda found: names[found[0]], part.render()) for part in (figure.html, figure.script)
    )
    return Frame(element, script)
