"""Joints and works beside a core."""

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline.locate.road_works import FARTHEST_JOINT_M, is_known, joint_m, work_on

_ZONE = "America/Toronto"


def _days(*days):
    return pd.Series(pd.to_datetime(list(days))).dt.tz_localize(_ZONE).astype(f"datetime64[us, {_ZONE}]")


def _cores(x, opened):
    return pd.DataFrame({"x_m": x, "y_m": [0.0] * len(x), "opened_on": _days(*opened)})


def _works(shapes, days, ids=None):
    return gpd.GeoDataFrame(
        {"on": _days(*days), "segment_id": pd.Series(ids or [None] * len(days), dtype="str")}, geometry=shapes
    )


def test_a_joint_is_measured_to_the_nearest_and_no_farther_than_matters():
    joints = gpd.GeoDataFrame(geometry=[shapely.LineString([(3, -4), (3, 4)]), shapely.LineString([(50, -4), (50, 4)])])
    cores = _cores([0.0, 2.5, 30.0, None], [None] * 4)
    assert joint_m(cores, joints).tolist()[:3] == [3.0, 0.5, FARTHEST_JOINT_M]
    assert joint_m(cores, joints).isna().tolist() == [False, False, False, True]
    assert joint_m(cores, None).isna().all()


def test_the_last_resurfacing_before_the_core_was_cut_counts():
    road = shapely.box(-10, -5, 10, 5)
    works = _works([road, road, road], ["2019-05-01", "2023-05-01", "2027-05-01"])
    cores = _cores([0.0, 0.0, 0.0, 40.0], ["2026-01-01", "2020-01-01", "2018-01-01", "2026-01-01"])
    found = work_on(cores, pd.Series(["S1"] * 4), works, 6.0, "last before")
    assert found.dt.strftime("%Y-%m-%d").fillna("none").tolist() == ["2023-05-01", "2019-05-01", "none", "none"]


def test_the_first_works_after_the_core_was_cut_count():
    road = shapely.box(-10, -5, 10, 5)
    works = _works([road, road, road], ["2028-05-01", "2026-01-01", "2027-05-01"])
    found = work_on(_cores([0.0], ["2026-01-01"]), pd.Series(["S1"]), works, 6.0, "first after")
    assert found.dt.strftime("%Y-%m-%d").tolist() == ["2027-05-01"]


def test_without_the_day_it_was_cut_the_last_or_first_of_all_counts():
    road = shapely.box(-10, -5, 10, 5)
    works = _works([road, road], ["2028-05-01", "2026-01-01"])
    cores = _cores([0.0], [None])
    assert work_on(cores, pd.Series(["S1"]), works, 6.0, "first after").dt.year.tolist() == [2026]
    assert work_on(cores, pd.Series(["S1"]), works, 6.0, "last before").dt.year.tolist() == [2028]


@pytest.mark.parametrize(("aside", "found"), [(5.9, 1), (6.0, 1), (6.1, 0)])
def test_works_drawn_as_a_line_reach_so_far_and_no_farther(aside, found):
    works = _works([shapely.LineString([(-10, aside), (10, aside)])], ["2024-01-01"])
    got = work_on(_cores([0.0], ["2026-01-01"]), pd.Series(["S1"]), works, 6.0, "last before")
    assert got.notna().sum() == found


def test_works_of_a_segment_are_those_of_that_segment_wherever_they_are_drawn():
    works = _works([shapely.box(-10, -5, 10, 5)], ["2024-01-01"], ["S2"])
    cores = _cores([0.0, 500.0, None], ["2026-01-01"] * 3)
    got = work_on(cores, pd.Series(["S1", "S2", None], dtype="str"), works, 6.0, "last before")
    assert got.notna().tolist() == [False, True, False]


def test_a_layer_that_shows_nothing_at_a_core_says_so_and_no_layer_says_nothing():
    cores = _cores([0.0, None], ["2026-01-01"] * 2)
    works = _works([shapely.box(100, 100, 110, 110)], ["2024-01-01"])
    assert is_known(cores, works).fillna("no").tolist() == ["yes", "no"]
    assert is_known(cores, None).isna().all()
