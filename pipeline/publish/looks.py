"""How a status looks, on the map, in the report and in a GIS: shape and colour together."""

from typing import Final, NamedTuple

__all__ = ["DISTRICT_LINE", "HALO", "HOLLOW", "INK", "SEGMENT_LINE", "STATUS_LOOKS", "Look"]


class Look(NamedTuple):
    """Colours as ``#rrggbb``; ``gis_marker`` is the name OGC's Symbology Encoding and QGIS give the shape.

    ``size`` is its width where that of a circle is 1: what makes the shapes look equally large.
    """

    fill: str
    outline: str
    gis_marker: str
    size: float


# far apart in lightness, so that they differ in grey too; each has its own shape and a dark outline
STATUS_LOOKS: Final = {
    "flagged": Look("#b1123f", "#222222", "triangle", 1.2),
    "pending": Look("#ffe07a", "#222222", "square", 0.9),
    "reinstated": Look("#3aa7a0", "#222222", "circle", 1.0),
}
SEGMENT_LINE: Final = "#8c887f"
DISTRICT_LINE: Final = "#5a4a86"
# what lies around a symbol, and the share of its width that is cut out where the core is unsure
HALO: Final = "#ffffff"
HOLLOW: Final = 0.52
# letters
INK: Final = "#222222"
