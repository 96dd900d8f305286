"""The district of each core, on squares small enough to draw."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.locate.districts import find_districts


def _cores(*points):
    x, y = zip(*points, strict=True)
    return pd.DataFrame({"x_m": np.array(x, dtype=float), "y_m": np.array(y, dtype=float)})


def _districts(**boxes):
    names = sorted(boxes)
    return gpd.GeoDataFrame(
        {"district": pd.Series(names, dtype="str")}, geometry=[shapely.box(*boxes[name]) for name in names], crs=32617
    )


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
    """A gap of 400 m between two districts: 40 m and 150 m into it; 40 m and 60 m beyond the outer edge."""
    districts = _districts(west=(0, 0, 100, 100), east=(500, 0, 600, 100))
    found = find_districts(_cores((140, 50), (250, 50), (640, 50), (660, 50)), districts, 50)
    assert found["district"].fillna("").tolist() == ["west", "", "east", ""]
    assert found["district_how"].tolist() == ["gap", "outside", "gap", "outside"]
    assert found["district_distance_m"].tolist() == pytest.approx([40, 150, 40, 60])


def test_a_core_in_a_bay_between_districts_stays_outside_where_they_are_far():
    """140 m into a neighbouring ward that the layer lacks, yet within the convex hull of two districts."""
    districts = _districts(south=(0, 0, 600, 100), west=(0, 100, 100, 600))
    found = find_districts(_cores((240, 240)), districts, 10)
    assert (found["district_how"][0], found["district_distance_m"][0]) == ("outside", 140)
    assert pd.isna(found["district"][0])


def test_without_a_layer_or_a_position_there_is_no_district():
    assert find_districts(_cores((1, 1)), None, 50)["district_how"].isna().all()
    found = find_districts(_cores((np.nan, np.nan)), _districts(a=(0, 0, 1, 1)), 50)
    assert found[["district", "district_how"]].isna().all(axis=None)


def test_of_districts_equally_near_the_first_by_name_takes_the_core():
    """Half way across a gap of 100 m, on the middle line of both."""
    districts = _districts(west=(0, 0, 100, 100), east=(200, 0, 300, 100))
    found = find_districts(_cores((150, 50)), districts, 50)
    assert found["district"][0] == "east"
    assert found["district_how"][0] == "gap"
    assert found["district_distance_m"][0] == 50


def test_a_district_as_near_but_for_rounding_takes_the_core_wherever_the_town_lies():
    for far in (0.1, 400_000.1, 6_000_000.7):
        districts = _districts(west=(far, far, far + 100, far + 100), east=(far + 200.2, far, far + 300, far + 100))
        found = find_districts(_cores((far + 150.1, far + 50)), districts, 50.1)
        assert (found["district"][0], found["district_how"][0]) == ("east", "gap")


@pytest.mark.parametrize(("beyond", "how"), [(49.99, "gap"), (50, "gap"), (50.01, "outside")])
def test_beyond_the_outer_edge_the_gap_counts_its_own_end(beyond, how):
    found = find_districts(_cores((100 + beyond, 50)), _districts(a=(0, 0, 100, 100)), 50)
    assert found["district_how"][0] == how
    assert found["district_distance_m"][0] == pytest.approx(beyond)
    assert pd.isna(found["district"][0]) == (how == "outside")


def test_only_a_core_in_no_district_has_a_distance():
    found = find_districts(_cores((50, 50), (105, 50), (np.nan, 5)), _districts(a=(0, 0, 100, 100)), 50)
    assert found["district_distance_m"].isna().tolist() == [True, False, True]


def test_three_districts_over_one_core_are_all_named():
    districts = _districts(a=(0, 0, 9, 9), b=(0, 0, 9, 9), c=(0, 0, 9, 9))
    found = find_districts(_cores((5, 5)), districts, 50)
    assert (found["district"][0], found["district_others"][0]) == ("a", "b and c")


def test_the_answer_is_on_the_index_of_the_cores_whatever_their_order():
    districts = _districts(west=(0, 0, 100, 100), east=(100, 0, 200, 100), far=(900, 0, 999, 9))
    cores = _cores((50, 50), (150, 50), (130, 120), (np.nan, np.nan), (60, 200)).set_axis([5, 1, 9, 2, 7])
    plain = find_districts(cores, districts, 50)
    assert plain.index.tolist() == [5, 1, 9, 2, 7]
    assert plain["district"].fillna("").tolist() == ["west", "east", "east", "", ""]
    turned = find_districts(cores.iloc[::-1], districts, 50)
    pd.testing.assert_frame_equal(turned.iloc[::-1], plain)


def test_texts_and_numbers_keep_their_kind_where_every_core_is_inside():
    found = find_districts(_cores((5, 5)), _districts(a=(0, 0, 9, 9)), 50)
    assert [str(kind) for kind in found.dtypes] == ["str", "str", "str", "float64"]
