"""The one place for how things look: shape and colour of a status, colour of a severity, and every shared colour.

Map, report, charts and GIS styles draw from here: Python by import, style sheets by the custom properties that
``colour_variables`` returns, and the map's scripts by the page data.
"""

from typing import Final, NamedTuple

__all__ = [
    "COLOURS",
    "DISTRICT_LINE",
    "HALO",
    "HOLLOW",
    "INK",
    "SEGMENT_LINE",
    "SEVERITY_LOOKS",
    "STATUS_LOOKS",
    "Look",
    "SeverityLook",
    "colour_variables",
]


class Look(NamedTuple):
    """How the cores of one status are drawn; colours are ``#rrggbb``.

    ``letters``: a number printed on the fill. ``path``: the shape as an SVG path in a box from -11 to 11 both ways.
    ``gis_marker``: what OGC Symbology Encoding and QGIS call the shape. ``size``: its width where that of a circle
    is 1, so that all shapes appear equally large.
    """

    fill: str
    outline: str
    letters: str
    path: str
    gis_marker: str
    size: float


class SeverityLook(NamedTuple):
    """How a finding of one severity is marked: the line beside it and the tint behind it."""

    line: str
    ground: str


# letters and outlines
INK: Final = "#222222"
# around a symbol, and the share of its width cut out of the middle where street, surface or district is uncertain
HALO: Final = "#ffffff"
HOLLOW: Final = 0.52
SEGMENT_LINE: Final = "#8c887f"
DISTRICT_LINE: Final = "#5a4a86"
_RED: Final = "#b1123f"
_GREY: Final = "#8d9097"

# far apart in lightness (about 37, 89 and 64 of 100), so that a grey print still tells them apart
STATUS_LOOKS: Final = {
    "flagged": Look(_RED, INK, HALO, "M0-9L9 7H-9Z", "triangle", 1.2),
    "pending": Look("#ffe07a", INK, INK, "M-6.7-6.7H6.7V6.7H-6.7Z", "square", 0.9),
    "reinstated": Look("#3aa7a0", INK, INK, "M-7.4 0A7.4 7.4 0 1 1 7.4 0A7.4 7.4 0 1 1-7.4 0Z", "circle", 1.0),
}
SEVERITY_LOOKS: Final = {
    "fail": SeverityLook(_RED, "#fbeef1"),
    "check": SeverityLook("#c98a00", "#fdf5e2"),
    "note": SeverityLook(_GREY, "#f3f2ef"),
}
# by the name of the custom property that style sheets use
COLOURS: Final = {
    "ink": INK,
    "muted": "#575b63",
    "paper": HALO,
    "ground": "#f6f5f2",
    "rule": "#dcd8ce",
    "chart-rule": "#c9c5bb",
    "accent": "#1d5a85",
    "grey": _GREY,
    "warning": _RED,
    "warning-ground": SEVERITY_LOOKS["fail"].ground,
    "district-line": DISTRICT_LINE,
    "district-name": "#3f3468",
    # lighter than in a GIS, where no symbol with a halo lies on it
    "road-line": "#b5b1a8",
    "street-name": "#4a463f",
}


def colour_variables() -> str:
    """Return every colour as a custom property of the root, for the head of a style sheet."""
    names = dict(COLOURS)
    for status, look in STATUS_LOOKS.items():
        names |= {status: look.fill, f"{status}-letters": look.letters}
    for severity, marked in SEVERITY_LOOKS.items():
        names |= {severity: marked.line, f"{severity}-ground": marked.ground}
    return ":root {" + "".join(f" --{name}: {colour};" for name, colour in names.items()) + " }\n"
