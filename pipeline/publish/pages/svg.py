"""Lines, letters and symbols of charts as inline SVG.

Widths are in percent and letters in pixels, so a chart is as wide as the page and as legible on a phone as on paper.
"""

from typing import Final

from markupsafe import Markup, escape

from pipeline.publish.looks import HALO, INK, STATUS_LOOKS

__all__ = [
    "LETTER",
    "LETTER_WIDE",
    "NARROWEST",
    "TYPEFACE",
    "line",
    "named_chart",
    "status_shape",
    "symbol_beside",
    "text",
]

# height of letters, width of one, and of the narrowest page, in pixels
LETTER: Final = 13
LETTER_WIDE: Final = 7.2
NARROWEST: Final = 340
# as the style sheet of the pages; a PDF is made without that style sheet inside charts
TYPEFACE: Final = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Liberation Sans', sans-serif"


def named_chart(name: str, height: float, title: str, description: str, parts: list[str]) -> Markup:
    """Return a chart of its parts, with a title and a description for screen readers; both are escaped."""
    head = (
        f'<svg class="chart" width="100%" height="{height:g}" role="img" '
        f'aria-labelledby="{name}-title {name}-desc" font-family="{TYPEFACE}" font-size="{LETTER}">'
    )
    texts = f'<title id="{name}-title">{escape(title)}</title><desc id="{name}-desc">{escape(description)}</desc>'
    return Markup(f"{head}{texts}{''.join(parts)}</svg>")  # noqa: S704 - every text in it is escaped


def line(x: float, y: float, to_x: float, to_y: float, ink: str, more: str = "") -> str:
    """Return a line; x in percent, y in pixels."""
    return f'<line x1="{x:.2f}%" y1="{y:.1f}" x2="{to_x:.2f}%" y2="{to_y:.1f}" stroke="{ink}"{more}/>'


def text(x: float, y: float, shown: str, anchor: str, ink: str = INK, *, has_halo: bool = False) -> str:
    """Return a text, escaped; with a halo it can be read where a line crosses it."""
    halo = f' stroke="{HALO}" stroke-width="3" paint-order="stroke"' if has_halo else ""
    return f'<text x="{x:.2f}%" y="{y:.1f}" text-anchor="{anchor}" fill="{ink}"{halo}>{escape(shown)}</text>'


def status_shape(status: str) -> str:
    """Return the shape of a status as on the map, centred at 0, 0: colour is never the only cue."""
    look = STATUS_LOOKS[status]
    return (
        f'<path d="{look.path}" fill="{look.fill}" stroke="{look.outline}" stroke-width="1.6" stroke-linejoin="round"/>'
    )


def symbol_beside(x: float, y: float, status: str, shown: str, aside: float) -> str:
    """Return the symbol of a status, ``aside`` pixels to the right of x percent, and a text to the right of it."""
    return (
        f'<svg x="{x:.2f}%" y="{y:.1f}" width="1" height="1" overflow="visible">'
        f'<g transform="translate({aside:g} 0) scale(0.65)">{status_shape(status)}</g>'
        f'<text x="{aside + 11:g}" y="4.5" fill="{INK}">{escape(shown)}</text></svg>'
    )
