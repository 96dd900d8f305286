"""Cores in surfaces and districts, on squares small enough to draw."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.locate.districts import find_districts
from pipeline.locate.surfaces import find_surfaces


def _cores(*points):
    x, y = zip(*points, strict=True)
    return pd.DataFrame({"x_m": np.array(x, dtype=float), "y_m": np.array(y, dtype=float)})


def _districts(**boxes):
    names = sorted(boxes)
    return gpd.GeoDataFrame(
        {"district": pd.Series(names, dtype="str")}, geometry=[shapely.box(*boxes[name]) for name in names], crs=32617
    )


def _text(*cells):
    return pd.Series(cells, dtype="str")


def test_each_core_has_one_district_also_on_a_common_edge():
    """West 0-100, East 100-200: the edge belongs to the first by name, and is no overlap."""
    districts = _districts(west=(0, 0, 100, 100), east=(100, 0, 200, 100))
    found = find_districts(_cores((50, 50), (150, 50), (100, 50)), districts, 50)
    assert found["district"].tolist() == ["west", "east", "east"]
    assert found["district_how"].tolist() == ["inside"] * 3
    assert found["district_others"].isna().all()


def test_a_core_in_two_districts_is_in_the_first_by_name_and_says_so():
    districts = _districts(west=(0, 0, 110, 100), east=(100, 0, 200, 100))
    found = find_districts(_cores((105, 50), (50, 50)), districts, 50)
    assert found["district"].tolist() == ["east", "west"]
    assert found["district_how"].tolist() == ["several", "inside"]
    assert found["district_others"][0] == "west"


def test_inside_one_and_on_the_edge_of_another_is_inside_one():
    districts = _districts(a=(100, 0, 200, 100), b=(0, 0, 150, 100))
    found = find_districts(_cores((100, 50)), districts, 50)
    assert found["district"][0] == "b"
    assert found["district_how"][0] == "inside"


def test_a_gap_takes_the_nearest_and_outside_takes_none():
    """A gap of 400 m between two districts; 40 m and 60 m beyond the outer edge."""
    districts = _districts(west=(0, 0, 100, 100), east=(500, 0, 600, 100))
    found = find_districts(_cores((250, 50), (640, 50), (660, 50)), districts, 50)
    assert found["district"].fillna("").tolist() == ["west", "east", ""]
    assert found["district_how"].tolist() == ["gap", "gap", "outside"]
    assert found["district_distance_m"].tolist() == pytest.approx([150, 40, 60])


def test_without_a_layer_or_a_position_there_is_no_district():
    assert find_districts(_cores((1, 1)), None, 50)["district_how"].isna().all()
    found = find_districts(_cores((np.nan, np.nan)), _districts(a=(0, 0, 1, 1)), 50)
    assert found[["district", "district_how"]].isna().all(axis=None)


def _surfaces(*rows):
    return gpd.GeoDataFrame(
        {"surface": pd.Series([surface for surface, _ in rows], dtype="str")},
        geometry=[shapely.box(*box) for _, box in rows],
        crs=32617,
    )


def test_polygon_then_segment_then_register_then_nothing():
    segments = gpd.GeoDataFrame({"surface": _text("composite", None)}, geometry=[None, None], crs=32617)
    found = find_surfaces(
        _cores((5, 5), (50, 5), (50, 5), (50, 5)),
        pd.Series([0, 0, 1, -1]),
        segments,
        _surfaces(("concrete", (0, 0, 10, 10))),
        _text("asphalt", "asphalt", "asphalt", None),
    )
    assert found["surface"].tolist() == ["concrete", "composite", "asphalt", "unknown"]
    assert found["surface_from"].tolist() == ["polygon", "segment", "register", "none"]
    assert found["surface_on_map"].fillna("").tolist() == ["concrete", "composite", "", ""]


def test_the_smallest_of_overlapping_polygons_serves_and_the_other_is_named():
    segments = gpd.GeoDataFrame({"surface": _text(None)}, geometry=[None], crs=32617)
    found = find_surfaces(
        _cores((5, 5), (50, 50), (10, 5)),
        pd.Series([-1, -1, -1]),
        segments,
        _surfaces(("concrete", (0, 0, 10, 10)), ("asphalt", (0, 0, 100, 100))),
        _text(None, None, None),
    )
    assert found["surface"].tolist() == ["concrete", "asphalt", "concrete"]
    # on the patch's own edge: inside the street alone, so nothing overlaps there that counts
    assert found["surface_others"].fillna("").tolist() == ["asphalt", "", "asphalt"]


def test_polygons_of_one_surface_may_overlap():
    segments = gpd.GeoDataFrame({"surface": _text(None)}, geometry=[None], crs=32617)
    layer = _surfaces(("asphalt", (0, 0, 10, 10)), ("asphalt", (0, 0, 100, 100)))
    assert find_surfaces(_cores((5, 5)), pd.Series([-1]), segments, layer, _text(None))["surface_others"].isna().all()
