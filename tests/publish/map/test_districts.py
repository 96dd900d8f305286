"""Outlines of districts, as folium is given them."""

import geopandas as gpd
import pytest
import shapely

from pipeline.publish.map.districts import outline_districts


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
