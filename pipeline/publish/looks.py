"""How a status looks, on the map, in the report and in a GIS: shape and colour together."""

from typing import Final, NamedTuple

__all__ = ["DISTRICT_LINE", "SEGMENT_LINE", "STATUS_LOOKS", "Look"]


class Look(NamedTuple):
    """Colours as ``#rrggbb``; ``gis_marker`` is the name QGIS gives the shape."""

    fill: str
    outline: str
    gis_marker: str


# far apart in lightness, so that they differ in grey too; each has its own shape and a dark outline
STATUS_LOOKS: Final = {
    "flagged": Look("#b1123f", "#222222", "triangle"),
    "pending": Look("#ffe07a", "#222222", "square"),
    "reinstated": Look("#3aa7a0", "#222222", "circle"),
}
SEGMENT_LINE: Final = "#8c887f"
DISTRICT_LINE: Final = "#5a4a86"
