"""The surface of each core, on squares small enough to draw."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.locate.surfaces import find_surfaces, with_recorded_kinds


def _cores(*points):
    x, y = zip(*points, strict=True)
    return pd.DataFrame({"x_m": np.array(x, dtype=float), "y_m": np.array(y, dtype=float)})


def _text(*cells):
    return pd.Series(cells, dtype="str")


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


def test_a_register_that_names_a_kind_of_what_the_map_has_is_followed_and_any_other_is_not():
    found = pd.DataFrame(
        {
            "surface": _text("concrete", "concrete", "asphalt", "reinforced concrete", "concrete"),
            "surface_from": _text("polygon", "segment", "polygon", "polygon", "polygon"),
        }
    )
    reinforced = "reinforced concrete"
    recorded = _text(reinforced, "asphalt", reinforced, "concrete", None)
    followed = with_recorded_kinds(found, recorded, {reinforced: "concrete"})
    assert followed["surface"].tolist() == [reinforced, "concrete", "asphalt", reinforced, "concrete"]
    assert followed["surface_from"].tolist() == ["register", "segment", "polygon", "polygon", "polygon"]


def test_polygons_of_one_surface_may_overlap():
    segments = gpd.GeoDataFrame({"surface": _text(None)}, geometry=[None], crs=32617)
    layer = _surfaces(("asphalt", (0, 0, 10, 10)), ("asphalt", (0, 0, 100, 100)))
    assert find_surfaces(_cores((5, 5)), pd.Series([-1]), segments, layer, _text(None))["surface_others"].isna().all()


def _no_segments():
    return gpd.GeoDataFrame({"surface": _text(None)}, geometry=[None], crs=32617)


@pytest.mark.parametrize("layer", [None, _surfaces()])
def test_without_polygons_the_segment_or_the_register_gives_the_surface(layer):
    segments = gpd.GeoDataFrame({"surface": _text("concrete", None)}, geometry=[None, None], crs=32617)
    cores = _cores((5, 5), (5, 5), (5, 5), (np.nan, np.nan))
    found = find_surfaces(
        cores, pd.Series([0, 1, -1, -1]), segments, layer, _text("asphalt", "asphalt", None, "asphalt")
    )
    assert found["surface"].tolist() == ["concrete", "asphalt", "unknown", "asphalt"]
    assert found["surface_from"].tolist() == ["segment", "register", "none", "register"]
    assert found["surface_others"].isna().all()


def test_several_other_surfaces_are_named_once_each_in_alphabetical_order():
    layer = _surfaces(
        ("concrete", (4, 4, 6, 6)), ("unbound", (3, 3, 7, 7)), ("asphalt", (0, 0, 10, 10)), ("unbound", (0, 0, 20, 20))
    )
    found = find_surfaces(_cores((5, 5)), pd.Series([-1]), _no_segments(), layer, _text(None))
    assert (found["surface"][0], found["surface_others"][0]) == ("concrete", "asphalt and unbound")


def test_on_the_shared_edge_of_two_polygons_the_smaller_counts_and_nothing_overlaps():
    layer = _surfaces(("concrete", (0, 0, 10, 10)), ("asphalt", (10, 0, 100, 100)))
    found = find_surfaces(_cores((10, 5)), pd.Series([-1]), _no_segments(), layer, _text(None))
    assert found["surface"][0] == "concrete"
    assert found["surface_others"].isna().all()


def test_a_polygon_wins_over_the_segment_and_the_map_over_the_register():
    segments = gpd.GeoDataFrame({"surface": _text("asphalt")}, geometry=[None], crs=32617)
    layer = _surfaces(("composite", (0, 0, 10, 10)))
    found = find_surfaces(_cores((5, 5), (50, 5)), pd.Series([0, 0]), segments, layer, _text("concrete", "concrete"))
    assert found["surface"].tolist() == ["composite", "asphalt"]
    assert found["surface_on_map"].tolist() == ["composite", "asphalt"]


def test_the_answer_is_on_the_index_of_the_cores():
    layer = _surfaces(("composite", (0, 0, 10, 10)))
    cores = _cores((50, 5), (5, 5)).set_axis([4, 2])
    none = pd.Series([-1, -1], index=[4, 2])
    found = find_surfaces(cores, none, _no_segments(), layer, _text(None, None).set_axis([4, 2]))
    assert found["surface"].to_dict() == {4: "unknown", 2: "composite"}
