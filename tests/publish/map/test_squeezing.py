"""Pieces squeezed and lettered, against the plain ways."""

import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.publish.map.squeezing import Squeezer, as_letters, squeezed


def plainly_lettered(content):
    """Bytes as letters the plain way: bit by bit, and what is unsafe replaced letter by letter."""
    bits = "".join(f"{byte:08b}" for byte in content)
    letters = [chr(int(bits[at : at + 7].ljust(7, "0"), 2)) for at in range(0, len(bits), 7)]
    return f"{len(content)} " + "".join(
        chr(ord(letter) + 128) if letter in "\0\r" or (letter == "<" and follows in tuple("!/sS")) else letter
        for letter, follows in zip(letters, [*letters, ""][1:], strict=True)
    )


@given(st.one_of(st.binary(max_size=60), st.lists(st.sampled_from([0, 13, 60, 120, 121, 57]), max_size=60).map(bytes)))
def test_letters_are_what_they_are_bit_by_bit(content):
    assert as_letters(content) == plainly_lettered(content)


@pytest.mark.parametrize("size", [10, 40_000, 65_536, 200_000])
@pytest.mark.parametrize("most", [2, 40, 256])
def test_a_piece_is_squeezed_as_if_at_once_in_the_way_that_suits_its_beginning(size, most):
    chance = np.random.default_rng(size + most)
    piece = np.cumsum(chance.integers(0, most, size)).astype(np.uint8).tobytes() + bytes(size // 3)

    def at_once(content, way, ending):
        squeezer = zlib.compressobj(6, zlib.DEFLATED, -15, zlib.DEF_MEM_LEVEL, way)
        return squeezer.compress(content) + squeezer.flush(ending)

    ways = (zlib.Z_FILTERED, zlib.Z_HUFFMAN_ONLY, zlib.Z_RLE)
    best = min(ways, key=lambda way: len(at_once(piece[:65_536], way, zlib.Z_FINISH)))
    for is_last, ending in ((True, zlib.Z_FINISH), (False, zlib.Z_SYNC_FLUSH)):
        assert squeezed(piece, is_last=is_last) == at_once(piece, best, ending)


def test_a_piece_that_is_already_squeezed_is_not_squeezed_again():
    squeezer = Squeezer()
    piece = bytes(range(256)) * 4
    first = squeezer(piece, is_last=False)
    assert squeezer(bytes(bytearray(piece)), is_last=False) is first
    assert squeezer(piece, is_last=True) == squeezed(piece, is_last=True) != first
