"""QR codes of many short texts at once (ISO/IEC 18004): version 2, 25 modules a side, error correction level M.

The library draws one symbol per mask. Every step from text to modules is linear, so the symbol of any other text
differs from it only where their codewords do: that difference alone is worked out here, for whole columns of texts.
"""

from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
import segno

from pipeline.publish.plan.qr_masks import mask_scores

__all__ = ["LONGEST", "SHORTEST", "SIDE", "qr_symbols"]

Bytes = npt.NDArray[np.uint8]
Words = npt.NDArray[np.uint32]
# modules a side, and how long a text is that this version takes, in characters
SIDE: Final = 25
SHORTEST: Final = 15
LONGEST: Final = 26
_DATA: Final = 28
_CORRECTION: Final = 16
_MASKS: Final = 8
# mode "bytes", and the codewords that fill what a text leaves empty, by turns; the library has an empty one before them
_BYTES_MODE: Final = 0b0100
_FILL: Final = (0b11101100, 0b00010001)
# the field of the error correction: 256 elements, by this polynomial
_POLYNOMIAL: Final = 0b100011101
_BASE_TEXT: Final = "0" * LONGEST


def qr_symbols(texts: list[str]) -> Words:
    """Return the symbols of N texts as N x 25 rows, whose lowest bit is the module furthest to the right.

    Parameters
    ----------
    texts
        Of ``SHORTEST`` to ``LONGEST`` ASCII characters, with at least one small letter.
    """
    drawn, free, at = _base_symbols()
    changed = np.unpackbits(_codewords([_BASE_TEXT, *texts]), axis=1)
    modules = np.zeros((len(texts), SIDE * SIDE), np.uint8)
    modules[:, at] = changed[1:] ^ changed[0]
    difference = modules.reshape(-1, SIDE, SIDE)
    rows, columns = _as_words(difference), _as_words(difference.transpose(0, 2, 1))
    # a mask is chosen before the format, which names it, is drawn
    plain = drawn * free
    masked = zip(_as_words(plain), _as_words(plain.transpose(0, 2, 1)), strict=True)
    scores = [mask_scores(rows ^ across, columns ^ down, SIDE) for across, down in masked]
    best = np.argmin(scores, axis=0)
    symbols: Words = rows ^ _as_words(drawn)[best]
    return symbols


@lru_cache(maxsize=1)
def _base_symbols() -> tuple[Bytes, Bytes, npt.NDArray[np.intp]]:
    """Return the base text's symbol for each mask, which modules hold no format, and where each bit's module is."""
    made = [
        segno.make(_BASE_TEXT, error="m", mask=mask, mode="byte", micro=False, boost_error=False)
        for mask in range(_MASKS)
    ]
    drawn = np.array([[list(row) for row in symbol.matrix] for symbol in made], np.uint8)
    is_data, free = np.ones((SIDE, SIDE), bool), np.ones((SIDE, SIDE), np.uint8)
    for rows, columns in (((0, 9), (0, 9)), ((0, 9), (-8, None)), ((-8, None), (0, 9)), ((16, 21), (16, 21))):
        is_data[slice(*rows), slice(*columns)] = False
    is_data[6, :] = is_data[:, 6] = False
    for beside in (slice(0, 6), slice(7, 9), slice(-8, None)):
        free[8, beside] = free[beside, 8] = 0
    return drawn, free, _bit_places(is_data)


def _bit_places(is_data: npt.NDArray[np.bool_]) -> npt.NDArray[np.intp]:
    """Return where each bit goes: in columns two modules wide, from the right, by turns upwards and downwards."""
    # the column of the timing pattern is none of a pair
    rights = [right if right > 6 else right - 1 for right in range(SIDE - 1, 0, -2)]
    order = [
        (row, right - aside)
        for turn, right in enumerate(rights)
        for row in (range(SIDE) if turn % 2 else reversed(range(SIDE)))
        for aside in (0, 1)
    ]
    rows, columns = np.array(order).T
    places: npt.NDArray[np.intp] = (rows * SIDE + columns)[is_data[rows, columns]]
    return places[: 8 * (_DATA + _CORRECTION)]


def _as_words(modules: Bytes) -> Words:
    """Return the lines along the last axis as numbers, whose highest bit is the first module."""
    padded = np.concatenate([np.zeros((*modules.shape[:-1], 32 - SIDE), np.uint8), modules], axis=-1)
    words: Words = np.packbits(padded, axis=-1).view(">u4")[..., 0].astype(np.uint32)
    return words


def _codewords(texts: list[str]) -> Bytes:
    """Return the codewords of N texts with those that correct errors: N x 44."""
    lengths = np.array([len(text) for text in texts])
    letters = np.zeros((len(texts), LONGEST + 1), np.uint8)
    letters[:, :LONGEST] = np.array(texts, dtype=f"S{LONGEST}").view(np.uint8).reshape(len(texts), LONGEST)
    words = np.zeros((len(texts), _DATA + _CORRECTION), np.uint8)
    # mode and length take a byte and a half, so every letter lies across two codewords
    words[:, 0] = _BYTES_MODE << 4 | lengths >> 4
    words[:, 1] = (lengths & 15) << 4 | letters[:, 0] >> 4
    words[:, 2:_DATA] = letters[:, :-1] << 4 | letters[:, 1:] >> 4
    beyond = np.arange(_DATA) - (lengths[:, np.newaxis] + 3)
    words[:, :_DATA] = np.where(beyond >= 0, np.take(_FILL, beyond % 2), words[:, :_DATA])
    rest, products = words.copy(), _generator_products()
    for place in range(_DATA):
        rest[:, place + 1 : place + 1 + _CORRECTION] ^= products[rest[:, place]]
    words[:, _DATA:] = rest[:, _DATA:]
    return words


@lru_cache(maxsize=1)
def _generator_products() -> Bytes:
    """Return the generator polynomial of the error correction, without its first term, times each element: 256 x 16."""
    powers = [1]
    while len(powers) < 255:
        powers.append((powers[-1] << 1) ^ (_POLYNOMIAL if powers[-1] > 127 else 0))
    logs = {power: place for place, power in enumerate(powers)}

    def times(one: int, other: int) -> int:
        return powers[(logs[one] + logs[other]) % 255] if one and other else 0

    generator = [1]
    for place in range(_CORRECTION):
        moved = [times(term, powers[place]) for term in generator]
        generator = [one ^ other for one, other in zip([*generator, 0], [0, *moved], strict=True)]
    return np.array([[times(element, term) for term in generator[1:]] for element in range(256)], np.uint8)
