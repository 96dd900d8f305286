"""Cores packed for the page: where they are drawn, in which order, which are hollow, and what their cards hold."""

import json
import zlib

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.publish.map import cores as map_data
from tests.publish.map.test_packing import unlettered, unpacked


def columns_of(text):
    """The integers of every column of a bundle."""
    content = zlib.decompress(unlettered(text), 31)
    length = int.from_bytes(content[:4], "little")
    columns = json.loads(content[4 : 4 + length])["columns"]
    at, found = 4 + length, {}
    for name, how in columns.items():
        size = how["n"] * how["planes"]
        found[name] = np.array(unpacked(how, content[at : at + size])) * how.get("times", 1) + how.get("shift", 0)
        at += size
    return found


def morton(x, y):
    """Bits of x and y by turns, the slow way."""
    return [int("".join(f"{b}{a}" for a, b in zip(f"{i:030b}", f"{j:030b}")), 2) for i, j in zip(x, y)]


@pytest.mark.parametrize("many", [500_000, 100])
def test_cores_are_in_morton_order_of_the_positions_drawn(monkeypatch, many):
    """In squares of 16 drawing integers, which the page looks them up by; also where positions are cut to fours."""
    monkeypatch.setattr(map_data, "MANY", many)
    random = np.random.default_rng(3)
    # about 30 m square: three hundred squares of 0.6 m
    lon, lat = -82.3 + random.uniform(0, 3e-4, 2000), 44.8 + random.uniform(0, 3e-4, 2000)
    cores = pd.DataFrame({"row": np.arange(2000), "lon": lon, "lat": lat, "status": "pending"})
    order, placed = map_data.page_order(cores)
    findings = pd.DataFrame({"row": [], "rule": []})
    drawn = columns_of(map_data.pack_drawing(cores, findings, order, placed))
    x, y = drawn["x"], drawn["y"]
    keys = morton(x >> 4, y >> 4)
    assert keys == sorted(keys)
    exact_x, exact_y = map_data.mercator(lon[order], lat[order])
    # four integers, 3.7 cm each at the equator
    off = 2 if many == 100 else 0
    assert np.abs(x - exact_x).max() == off
    assert np.abs(y - exact_y).max() == off


# two on the map, the second of them east of the first; one without a position
_THREE = pd.DataFrame(
    {
        "row": [1, 2, 3],
        "core_id": ["C-1", "C-2", "C-3"],
        "lon": [-82.1, np.nan, -82.0],
        "lat": [44.8, 44.8, 44.8],
        "status": ["flagged", "pending", "reinstated"],
    }
)
_NONE = pd.DataFrame({"row": [], "rule": [], "severity": [], "message": []})


def findings(*rows):
    return pd.DataFrame(rows, columns=["row", "rule", "severity", "message"])


@given(st.text())
def test_json_of_any_text_comes_back_and_ends_no_script(text):
    written = map_data.to_json({"a": text})
    assert json.loads(written) == {"a": text}
    assert not set(written) & set("<>&\u2028\u2029")


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_json_of_a_number_that_is_not_finite_is_refused(value):
    with pytest.raises(ValueError, match="not JSON compliant"):
        map_data.to_json(value)


def test_drawing_integers_are_those_of_web_mercator():
    """The middle of the world is half of 2**30 both ways; 90 degrees west is a quarter of it."""
    x, y = map_data.mercator(np.array([0.0, -90.0, 180.0, 0.0]), np.array([0.0, 0.0, 0.0, 89.9]))
    assert x.tolist() == [2**29, 2**28, 2**30 - 1, 2**29]
    # at the limit, ln(tan(45 + 85.05 / 2 degrees)) = ln(1 / tan(2.475 degrees)) = ln(23.136) = 3.1414; y is then
    # (1 - 3.1414 / pi) / 2 of the width
    assert y[:3].tolist() == [2**29] * 3
    assert y[3] / 2**30 == pytest.approx((1 - 3.1414 / np.pi) / 2, abs=1e-5)


def test_cores_without_a_position_follow_in_the_order_of_the_register():
    order, placed = map_data.page_order(_THREE)
    assert placed == 2
    assert order.tolist() == [0, 2, 1]


def test_an_empty_register_has_an_empty_order():
    order, placed = map_data.page_order(_THREE.iloc[:0])
    assert (order.tolist(), placed) == ([], 0)


def test_status_goes_by_the_order_of_the_page():
    order, placed = map_data.page_order(_THREE)
    drawn = columns_of(map_data.pack_drawing(_THREE, _NONE, order, placed))
    # flagged, reinstated, and pending without a position
    assert (drawn["marks"] & 3).tolist() == [0, 2, 1]
    assert len(drawn["x"]) == 2


@pytest.mark.parametrize(
    ("rule", "expected"),
    [("road-uncertain", 1), ("surface-uncertain", 1), ("district-uncertain", 1), ("depth-missing", 0)],
)
def test_a_core_is_hollow_where_its_street_surface_or_district_is_uncertain(rule, expected):
    order, placed = map_data.page_order(_THREE)
    wrong = findings((3, rule, "check", "Look."))
    drawn = columns_of(map_data.pack_drawing(_THREE, wrong, order, placed))
    assert (drawn["marks"] >> 2 & 1).tolist() == [0, expected, 0]


def test_statuses_are_counted_in_their_own_order():
    assert map_data.count_statuses(pd.DataFrame({"status": ["pending", "pending", "flagged"]})) == [1, 2, 0]


def test_every_fourth_integer_is_kept_only_of_very_many_positions():
    assert [map_data.position_step(placed) for placed in (0, 500_000, 500_001)] == [1, 1, 4]


def test_a_core_on_no_street_that_is_drawn_is_loose():
    order, placed = map_data.page_order(_THREE)
    cores = _THREE.assign(segment_id=["S-1", None, "S-9"])
    drawn = columns_of(map_data.pack_drawing(cores, _NONE, order, placed, pd.Series(["S-1", None])))
    assert (drawn["marks"] >> 5 & 1).tolist() == [0, 1, 1]


def test_hazards_and_what_is_overdue_are_marked_whatever_the_status():
    order, placed = map_data.page_order(_THREE)
    drawn = columns_of(map_data.pack_drawing(_THREE.assign(urgency=["overdue", None, "hazard"]), _NONE, order, placed))
    assert (drawn["marks"] >> 4 & 1).tolist() == [1, 0, 0]
    assert (drawn["marks"] >> 3 & 1).tolist() == [0, 1, 0]


@pytest.mark.parametrize(
    ("known", "expected"),
    [
        # in the page's order: the second core has no position and comes last
        ({"state": ["back", "plated", "interim"]}, [0, 1, 1]),
        ({"reinstated_at": ["2026-05-01", None, None]}, [0, 0, 1]),
    ],
)
def test_only_what_is_still_open_counts_as_overdue_on_the_map(known, expected):
    cores = _THREE.assign(urgency="overdue", **known)
    order, placed = map_data.page_order(_THREE)
    drawn = columns_of(map_data.pack_drawing(cores, _NONE, order, placed))
    assert (drawn["marks"] >> 4 & 1).tolist() == expected


def test_symbols_fit_from_the_zoom_at_which_a_tile_holds_few_enough():
    """300 positions in one square of 2**17 integers; a tile is 2**(31 - zoom) wide: halved, two tiles hold 150 each."""
    x = np.repeat([2**20, 2**20 + 2**16], 150)
    y = np.full(300, 2**20)
    # 2**(31 - 14) = 2**17 holds both, 2**(31 - 15) = 2**16 parts them
    assert map_data.fitting_zoom(x, y, 300) == 1
    assert map_data.fitting_zoom(x, y, 299) == 15
    assert map_data.fitting_zoom(x, y, 149) == map_data.LAST_FAR_ZOOM
    assert map_data.fitting_zoom(x[:0], y[:0], 1) == 1
    # of fewer than fifty squares, the fullest counts too
    far = np.array([2**28, 2**29])
    assert map_data.fitting_zoom(np.append(x, far), np.append(y, far), 299) == 15
