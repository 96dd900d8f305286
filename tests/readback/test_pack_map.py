"""The data of a pack's map read back: within the bounds of any map."""

import json
import zlib

import numpy as np
import pytest

from pipeline.errors import InputError
from pipeline.readback.pack_map import read_map_columns


def _letters(content):
    """Return bytes as a map's page holds them: compressed, seven bits to a letter."""
    packing = zlib.compressobj(9, zlib.DEFLATED, 31)
    octets = np.frombuffer(packing.compress(content) + packing.flush(), dtype=np.uint8)
    bits = np.unpackbits(octets)
    bits = np.pad(bits, (0, -len(bits) % 7)).reshape(-1, 7)
    sevens = np.packbits(np.pad(bits, ((0, 0), (1, 0))), axis=1).ravel() | 128
    return f"{len(octets)} {sevens.tobytes().decode('latin-1')}"


def _page(file, columns, cells=b""):
    head = json.dumps({"columns": columns}).encode()
    letters = _letters(len(head).to_bytes(4, "little") + head + cells)
    parts = {"page-data": "{}", "core-data": letters, "card-data": letters, "detail-data": letters}
    text = "".join(f'<script type="text/plain" id="{name}">{part}</script>' for name, part in parts.items())
    file.write_text(text, "utf-8")
    return file


@pytest.mark.parametrize(
    ("columns", "cells", "words"),
    [
        ({"row": {"n": 1 << 26, "planes": 1}}, bytes(1 << 26), "cut off, or too large"),
        ({f"c{at}": {"n": 0, "planes": 1} for at in range(10_001)}, b"", "10,001 columns, or a wider one"),
        ({"row": {"n": 0, "planes": 1 << 40}}, b"", "1 columns, or a wider one"),
        ({"row": {"n": 1 << 40, "planes": 1}}, b"", "cells, more than any map has"),
        ({"row": {"n": 2, "planes": 1}}, b"\0", "bytes found where the columns take"),
    ],
)
def test_a_small_map_that_would_take_a_memory_or_a_day_to_read_is_refused(tmp_path, columns, cells, words):
    file = _page(tmp_path / "map.html", columns, cells)
    assert file.stat().st_size < 1_000_000
    with pytest.raises(InputError, match=words):
        read_map_columns(file)
