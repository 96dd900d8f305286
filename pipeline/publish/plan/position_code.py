"""The position of a stop as a QR code that a phone opens as a place on its map: a geo URI (RFC 5870)."""

import io
from typing import Final

import segno
from markupsafe import Markup

__all__ = ["geo_uri", "position_code"]

# a tenth of a metre on the ground
_DIGITS: Final = 6


def geo_uri(lon: float, lat: float) -> str:
    """Return a position in degrees (WGS 84) as a geo URI: latitude first."""
    return f"geo:{lat:.{_DIGITS}f},{lon:.{_DIGITS}f}"


def position_code(lon: float, lat: float) -> Markup:
    """Return the QR code of a position as inline SVG, with the quiet zone that the standard asks for.

    Error correction at level M: a wet or folded code with up to 15 % damaged can still be read.
    """
    code = segno.make(geo_uri(lon, lat), error="m", micro=False, boost_error=False)
    drawn = io.BytesIO()
    code.save(drawn, kind="svg", xmldecl=False, svgns=False, omitsize=True, border=4, nl=False, svgclass="position")
    return Markup(drawn.getvalue().decode("ascii"))  # noqa: S704 - made of digits by the library
