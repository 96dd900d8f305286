"""Districts on the map: their outlines for folium, and the entries of the page's list."""

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline.publish.map.districts import outline_districts, pack_district_rows


def test_a_shared_border_is_drawn_once():
    """Two unit squares side by side have seven units of border between them, not eight:

    +---+---+
    |   |   |
    +---+---+
    """
    squares = gpd.GeoDataFrame(
        {"district": ["A", "B"]}, geometry=[shapely.box(0, 0, 1, 1), shapely.box(1, 0, 2, 1)], crs=4326
    )
    outlines, places = outline_districts(squares)
    drawn = shapely.union_all([shapely.geometry.shape(outline["geometry"]) for outline in outlines])
    assert sum(shapely.geometry.shape(outline["geometry"]).length for outline in outlines) == pytest.approx(7)
    assert drawn.length == pytest.approx(7)
    assert places["A"]["bounds"] == [[0, 0], [1, 1]]


def test_without_districts_nothing_is_outlined():
    empty = gpd.GeoDataFrame({"district": ["A"]}, geometry=[None], crs=4326)
    assert outline_districts(empty) == ([], {})
    assert outline_districts(None) == ([], {})


def test_an_outline_carries_no_text():
    squares = gpd.GeoDataFrame({"district": ["{{ 7*7 }}"]}, geometry=[shapely.box(0, 0, 1, 1)], crs=4326)
    outlines, limits = outline_districts(squares)
    assert [outline["properties"] for outline in outlines] == [{}]
    assert "7*7" not in str(outlines)
    assert list(limits) == ["{{ 7*7 }}"]


def test_a_label_lies_in_its_district_even_where_the_middle_does_not():
    """A horseshoe, whose centroid lies in the gap:

    +--+  +--+
    |  |  |  |
    |  +--+  |
    +--------+
    """
    shoe = shapely.box(0, 0, 9, 9) - shapely.box(3, 1, 6, 9)
    _, limits = outline_districts(gpd.GeoDataFrame({"district": ["A"]}, geometry=[shoe], crs=4326))
    lat, lon = limits["A"]["label"]
    assert not shoe.contains(shoe.centroid)
    assert shoe.contains(shapely.Point(lon, lat))


def test_a_district_in_two_parts_has_its_label_in_the_larger_and_the_limits_of_both():
    parts = gpd.GeoDataFrame(
        {"district": ["A", "A"]}, geometry=[shapely.box(0, 0, 1, 1), shapely.box(5, 5, 9, 9)], crs=4326
    )
    _, limits = outline_districts(parts)
    assert limits["A"]["label"] == [7, 7]
    assert limits["A"]["bounds"] == [[0, 0], [9, 9]]


def test_the_spots_for_a_name_lie_inside_the_nearest_to_the_label_first():
    shoe = shapely.box(0, 0, 9, 9) - shapely.box(3, 1, 6, 9)
    _, limits = outline_districts(gpd.GeoDataFrame({"district": ["A"]}, geometry=[shoe], crs=4326))
    spots = [shapely.Point(lon, lat) for lat, lon in limits["A"]["spots"]]
    label = shapely.Point(limits["A"]["label"][::-1])
    assert len(spots) > 10
    assert all(shoe.contains(spot) for spot in spots)
    away = [spot.distance(label) for spot in spots]
    assert away[0] < 1
    assert away[0] < away[-1]


_CORES = pd.DataFrame(
    {"district": ["West", "West", "East", None], "status": ["flagged", "pending", "reinstated", "flagged"]}
)
_ORDERS = pd.DataFrame(
    [
        ("West", "2026-W48", "grout dark", "kg", 61.254, 80.0, 18.746, 4),
        ("North", "2026-W48", "water", "L", 2.0, 2.0, 0.0, None),
        ("(no district)", None, "water", "L", 1.0, 1.0, 0.0, None),
    ],
    columns=["district", "period", "item", "unit", "needed", "order", "reserve", "packs"],
)


def test_each_district_has_one_entry_by_name_and_cores_in_none_come_last():
    entries = pack_district_rows(_CORES, _ORDERS, {"South": {"label": [1, 2]}})
    assert [entry["name"] for entry in entries] == ["East", "North", "South", "West", None]
    # flagged, pending, reinstated
    assert [entry["counts"] for entry in entries] == [[0, 0, 1], [0, 0, 0], [0, 0, 0], [1, 1, 0], [1, 0, 0]]
    assert entries[2]["label"] == [1, 2]


def test_order_lines_are_rounded_to_hundredths_and_listed_by_district():
    entries = {entry["name"]: entry["orders"] for entry in pack_district_rows(_CORES, _ORDERS, {})}
    assert entries["West"] == [["2026-W48", "grout dark", "kg", 61.25, 80.0, 18.75, 4.0]]
    assert entries["North"] == [["2026-W48", "water", "L", 2.0, 2.0, 0.0, None]]
    assert entries[None] == [[None, "water", "L", 1.0, 1.0, 0.0, None]]
    assert entries["East"] == []


def test_without_orders_a_district_has_none():
    assert [entry["orders"] for entry in pack_district_rows(_CORES, None, {})] == [[], [], []]


def test_a_name_as_long_as_a_file_is_cut():
    entries = pack_district_rows(_CORES.assign(district="x" * 1000), None, {})
    assert entries[0]["name"] == "x" * 400 + "…"
