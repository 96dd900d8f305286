"""The one place for how things look: shape and colour of a status, colour of a severity, and every shared colour.

Map, report, charts and GIS styles draw from here: Python by import, style sheets by the custom properties that
``colour_variables`` returns, and the map's scripts by the page data.
"""

from typing import Any, Final, NamedTuple

__all__ = [
    "COLOURS",
    "DARK_COLOURS",
    "DARK_STATUSES",
    "DISTRICT_LINE",
    "HALO",
    "HOLLOW",
    "INK",
    "SEGMENT_LINE",
    "SEVERITY_LOOKS",
    "STATUS_LOOKS",
    "STREET_LEVELS",
    "Look",
    "SeverityLook",
    "colour_variables",
    "dark_variables",
    "looks_for_scripts",
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
# what a street is coloured by, the most urgent first: of each, the light and the dark colour of its line. In greys and
# without red, green or blue cones they stay apart; width, casing and dashes tell them apart too
_STREETS: Final = {
    "hazard": ("#4f0520", "#fff0f3"),
    "overdue": (_RED, "#ff7d95"),
    "flagged": ("#e8708a", "#bf5a74"),
    "open": ("#ffe07a", "#e8c547"),
    "order": ("#64aba4", "#23655f"),
    "none": ("#d0cdc5", "#41444b"),
}
STREET_LEVELS: Final = tuple(_STREETS)
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
    "casing": "#4a4436",
    "casing-quiet": HALO,
    "symbol-line": INK,
    "symbol-halo": HALO,
    # around what is in order: it steps back
    "symbol-quiet": "#1f706a",
    "works-planned": "#7d4fb8",
    "works-protected": "#2d6fb3",
    "works-resurfaced": "#62672f",
    **{f"street-{level}": light for level, (light, _) in _STREETS.items()},
}
# the same names on a dark screen; paper is always light
DARK_COLOURS: Final = {
    "ink": "#e8e6e1",
    "muted": "#b0b3ba",
    "paper": "#24272c",
    "ground": "#1b1d21",
    "rule": "#3a3d44",
    "chart-rule": "#50545c",
    "accent": "#7db8e8",
    "grey": "#9a9da4",
    "warning": "#ff7d95",
    "warning-ground": "#3a1620",
    "district-line": "#b3a3e6",
    "district-name": "#cbbff2",
    "road-line": "#5a5e66",
    "street-name": "#d0ccc2",
    "casing": "#0e0f12",
    "casing-quiet": "#1b1d21",
    "symbol-line": "#0e0f12",
    "symbol-halo": "#1b1d21",
    "symbol-quiet": "#2f8a82",
    "works-planned": "#b795e6",
    "works-protected": "#6fa8e0",
    "works-resurfaced": "#b5bb6e",
    **{f"street-{level}": dark for level, (_, dark) in _STREETS.items()},
}
# of each status on a dark screen: fill, outline, letters
DARK_STATUSES: Final = {
    "flagged": ("#ff7d95", "#0e0f12", "#0e0f12"),
    "pending": ("#ffe07a", "#0e0f12", "#0e0f12"),
    "reinstated": ("#1c766f", "#0e0f12", "#fff0f3"),
}
_DARK_SEVERITIES: Final = {
    "fail": SeverityLook("#ff7d95", "#3a1620"),
    "check": SeverityLook("#e0a52e", "#33290f"),
    "note": SeverityLook("#9a9da4", "#2a2d32"),
}


def colour_variables() -> str:
    """Return every colour as a custom property of the root, for the head of a style sheet."""
    names = dict(COLOURS)
    for status, look in STATUS_LOOKS.items():
        names |= {status: look.fill, f"{status}-letters": look.letters}
    return _as_properties(names | _severity_names(SEVERITY_LOOKS))


def dark_variables() -> str:
    """Return the same custom properties for a screen whose reader prefers it dark; paper keeps the light ones."""
    names = dict(DARK_COLOURS)
    for status, (fill, _, letters) in DARK_STATUSES.items():
        names |= {status: fill, f"{status}-letters": letters}
    properties = _as_properties(names | _severity_names(_DARK_SEVERITIES))
    return f"@media screen and (prefers-color-scheme: dark) {{\n{properties}}}\n"


def looks_for_scripts() -> dict[str, Any]:
    """Return what the map's scripts draw by: statuses, colours and levels of streets, light and dark."""
    return {
        "statuses": [
            {"name": status, "colour": look.fill, "outline": look.outline, "letters": look.letters, "path": look.path}
            for status, look in STATUS_LOOKS.items()
        ],
        "darkStatuses": [DARK_STATUSES[status] for status in STATUS_LOOKS],
        "halo": HALO,
        "hollow": HOLLOW,
        "colours": COLOURS,
        "darkColours": DARK_COLOURS,
        "levels": STREET_LEVELS,
    }


def _severity_names(looks: dict[str, SeverityLook]) -> dict[str, str]:
    names: dict[str, str] = {}
    for severity, marked in looks.items():
        names |= {severity: marked.line, f"{severity}-ground": marked.ground}
    return names


def _as_properties(names: dict[str, str]) -> str:
    return ":root {" + "".join(f" --{name}: {colour};" for name, colour in names.items()) + " }\n"
