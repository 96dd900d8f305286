"""Where cores are drawn, and in which order they stand in the page."""

import json
import zlib

import numpy as np
import pandas as pd
import pytest

from pipeline.publish.map import cores as map_data
from tests.publish.map.test_packing import unlettered, unpacked


def drawn(text):
    """The positions of a bundle, in drawing integers."""
    content = zlib.decompress(unlettered(text), 31)
    length = int.from_bytes(content[:4], "little")
    columns = json.loads(content[4 : 4 + length])["columns"]
    at, found = 4 + length, {}
    for name, how in columns.items():
        size = how["n"] * how["planes"]
        found[name] = np.array(unpacked(how, content[at : at + size])) * how.get("times", 1) + how.get("shift", 0)
        at += size
    return found["x"], found["y"]


def morton(x, y):
    """Bits of x and y by turns, the slow way."""
    return [int("".join(f"{b}{a}" for a, b in zip(f"{i:030b}", f"{j:030b}")), 2) for i, j in zip(x, y)]


@pytest.mark.parametrize("many", [500_000, 100])
def test_cores_stand_in_morton_order_of_where_they_are_drawn(monkeypatch, many):
    """In squares of 16 drawing integers, which the page looks them up by; also where positions are cut to fours."""
    monkeypatch.setattr(map_data, "MANY", many)
    random = np.random.default_rng(3)
    # about 30 m square: three hundred squares of 0.6 m
    lon, lat = -82.3 + random.uniform(0, 3e-4, 2000), 44.8 + random.uniform(0, 3e-4, 2000)
    cores = pd.DataFrame({"row": np.arange(2000), "lon": lon, "lat": lat, "status": "pending"})
    order, placed = map_data.page_order(cores)
    findings = pd.DataFrame({"row": [], "rule": []})
    x, y = drawn(map_data.pack_drawing(cores, findings, order, placed))
    keys = morton(x >> 4, y >> 4)
    assert keys == sorted(keys)
    exact_x, exact_y = map_data.mercator(lon[order], lat[order])
    # four integers, 3.7 cm each at the equator
    off = 2 if many == 100 else 0
    assert np.abs(x - exact_x).max() == off
    assert np.abs(y - exact_y).max() == off
