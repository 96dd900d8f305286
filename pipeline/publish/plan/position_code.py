"""The positions of stops as QR codes that a phone opens as a place on its map: a geo URI (RFC 5870)."""

from collections.abc import Iterable
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from pipeline.publish.plan.qr_symbols import SIDE, Words, qr_symbols

__all__ = ["geo_uri", "position_codes"]

# a tenth of a metre on the ground
_DIGITS: Final = 6
# light modules around a symbol, which the standard asks for
_QUIET: Final = 4
# symbols drawn at a time
_MOST: Final = 4096
_HEAD: Final = (
    f'<svg viewBox="0 0 {SIDE + 2 * _QUIET} {SIDE + 2 * _QUIET}" class="position">'
    f'<path class="qrline" stroke="#000" d="M{_QUIET} {_QUIET}.5h'
)
_FOOT: Final = '"/></svg>'


def geo_uri(lon: float, lat: float) -> str:
    """Return a position in degrees (WGS 84) as a geo URI: latitude first."""
    return f"geo:{lat:.{_DIGITS}f},{lon:.{_DIGITS}f}"


def position_codes(positions: Iterable[tuple[float, float]]) -> list[Markup]:
    """Return the QR codes of N positions (longitude and latitude) as inline SVG, with a quiet zone.

    Error correction at level M: a wet or folded code with up to 15 % damaged can still be read.
    """
    texts = [geo_uri(lon, lat) for lon, lat in positions]
    return [
        drawn for start in range(0, len(texts), _MOST) for drawn in _drawn(qr_symbols(texts[start : start + _MOST]))
    ]


def _drawn(symbols: Words) -> list[Markup]:
    """Return N symbols as SVG: a stroke for each row of dark modules, from the end of the one before."""
    across = np.arange(SIDE, dtype=np.uint32)[::-1]
    dark = (symbols[:, :, np.newaxis] >> across & 1).astype(np.int8)
    edges = np.diff(dark, axis=2, prepend=np.int8(0), append=np.int8(0))
    symbol, row, start = np.nonzero(edges == 1)
    stop = np.nonzero(edges == -1)[2]
    to_right = start - np.concatenate([[0], stop[:-1]])
    down = np.diff(row, prepend=0)
    first = np.searchsorted(symbol, np.arange(len(symbols) + 1))
    # a symbol begins in its corner
    to_right[first[:-1]] = down[first[:-1]] = 0
    texts = _strokes(to_right, down, stop - start)
    return [
        # the head has the first move
        Markup(_HEAD + texts[begin].partition("h")[2] + "".join(texts[begin + 1 : end]) + _FOOT)  # noqa: S704 - made of digits
        for begin, end in pairwise(first.tolist())
    ]


def _strokes(right: npt.NDArray[np.int64], down: npt.NDArray[np.int64], length: npt.NDArray[np.int64]) -> list[str]:
    """Return N moves and strokes; the same one is written once."""
    wide = 2 * SIDE + 1
    keys = (down * wide + right + SIDE) * wide + length
    texts = np.empty(int(keys.max(initial=0)) + 1, object)
    for key in np.flatnonzero(np.bincount(keys)).tolist():
        move, long = divmod(key, wide)
        below, aside = divmod(move, wide)
        texts[key] = f"m{aside - SIDE} {below}h{long}"
    written: list[str] = texts[keys].tolist()
    return written
