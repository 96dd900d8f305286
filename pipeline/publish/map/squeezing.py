"""Bytes made small: pieces compressed in the way that suits each, and the whole written as letters."""

import hashlib
import zlib
from typing import Final, Protocol

import numpy as np

__all__ = ["TRIED", "Squeeze", "Squeezer", "as_letters", "squeezed"]

# this many values show in which way the others compress better
TRIED: Final = 65_536
_LEVEL: Final = 6
_RAW: Final = -15
# noise holds no repeats worth finding, and steps that hardly change are runs
_WAYS: Final = (zlib.Z_FILTERED, zlib.Z_HUFFMAN_ONLY, zlib.Z_RLE)
# a "<" before one of these letters begins a tag or comment
_OPENING: Final = ord("<")
_BEGINS: Final = np.frombuffer(b"!/sS", dtype=np.uint8)
_RETURN: Final = ord("\r")
_LOW: Final = 127
_MOVED: Final = 128


class Squeeze(Protocol):
    """Compresses a piece of a gzip; ``is_last``: nothing follows it."""

    def __call__(self, piece: bytes, *, is_last: bool) -> bytes:
        """Return the compressed piece."""
        ...


def squeezed(piece: bytes, *, is_last: bool) -> bytes:
    """Return a piece compressed in the way that suits its beginning best."""
    tried = []
    for way in _WAYS:
        squeezer = zlib.compressobj(_LEVEL, zlib.DEFLATED, _RAW, zlib.DEF_MEM_LEVEL, way)
        begun = squeezer.compress(piece[:TRIED])
        tried.append((len(begun) + len(squeezer.copy().flush(zlib.Z_FINISH)), begun, squeezer))
    _, begun, squeezer = min(tried, key=lambda one: one[0])
    return begun + squeezer.compress(piece[TRIED:]) + squeezer.flush(zlib.Z_FINISH if is_last else zlib.Z_SYNC_FLUSH)


class Squeezer:
    """Compresses pieces of several pages; the piece that two of them have is compressed once."""

    def __init__(self) -> None:
        self._done: dict[tuple[bytes, bool], bytes] = {}

    def __call__(self, piece: bytes, *, is_last: bool) -> bytes:
        """Return the compressed piece, as ``squeezed`` does."""
        key = hashlib.sha256(piece).digest(), is_last
        if key not in self._done:
            self._done[key] = squeezed(piece, is_last=is_last)
        return self._done[key]


def as_letters(content: bytes) -> str:
    """Return bytes as letters of seven bits, after the number of bytes and a space.

    Letters that a browser would not keep, or that could end a script element, are moved up by 128: a browser
    keeps a text of letters below 256 in half the memory, and reads it in half the time.
    """
    # seven bytes at a time, which are eight letters; a few zeros at the end fill up the last letter
    spread = np.zeros(-(-len(content) // 7) * 7, dtype=np.uint8)
    spread[: len(content)] = np.frombuffer(content, dtype=np.uint8)
    sevens = spread.reshape(-1, 7)
    letters = np.empty((len(sevens), 8), dtype=np.uint8)
    letters[:, 0] = sevens[:, 0] >> 1
    for at in range(1, 7):
        letters[:, at] = ((sevens[:, at - 1] << (7 - at)) | (sevens[:, at] >> (at + 1))) & _LOW
    letters[:, 7] = sevens[:, 6] & _LOW
    text = letters.ravel()[: -(-8 * len(content) // 7)]
    opens = np.flatnonzero(text[:-1] == _OPENING)
    unsafe = opens[np.isin(text[opens + 1], _BEGINS)]
    text[(text == 0) | (text == _RETURN)] |= _MOVED
    text[unsafe] |= _MOVED
    return f"{len(content)} {text.tobytes().decode('latin-1')}"
