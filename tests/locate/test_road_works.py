"""Joints and works beside a core."""

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from pipeline.locate.road_works import (
    FARTHEST_JOINT_M,
    NO_WORKS,
    Works,
    is_known,
    joint_m,
    protected_until,
    road_works_around,
    work_on,
)  # fmt: skip

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


@pytest.mark.parametrize(("east", "found"), [(9.9, 1), (10.0, 1), (10.1, 0), (15.9, 0)])
def test_works_drawn_as_an_area_end_at_its_edge(east, found):
    """The edge is 10 m east; the 6 m that lines reach do not count."""
    works = _works([shapely.box(-10, -5, 10, 5)], ["2024-01-01"])
    got = work_on(_cores([east], ["2026-01-01"]), pd.Series(["S1"]), works, 6.0, "last before")
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


def test_all_there_is_around_a_core_comes_as_one_frame_on_its_index():
    road = shapely.box(-10, -5, 10, 5)
    works = Works(
        joints=gpd.GeoDataFrame(geometry=[shapely.LineString([(2, -4), (2, 4)])]),
        resurfaced=_works([road], ["2024-05-01"]),
        planned=_works([road], ["2027-05-01"]),
    )
    cores = _cores([0.0, 400.0], ["2026-01-01"] * 2).set_axis([6, 3])
    around = road_works_around(cores, pd.Series(["S1", "S1"], index=[6, 3]), works, 6.0)
    assert around.index.tolist() == [6, 3]
    assert around["joint_m"].tolist() == [2.0, FARTHEST_JOINT_M]
    assert around["resurfaced_on"].dt.year.tolist()[0] == 2024
    assert around["resurfacing_due_on"].dt.year.tolist()[0] == 2027
    assert around[["resurfaced_on", "resurfacing_due_on"]].isna().all(axis="columns").tolist() == [False, True]
    assert around[["resurfaced_known", "planned_works_known"]].eq("yes").all(axis=None)


def test_without_layers_nothing_is_known_of_the_road():
    cores = _cores([0.0], ["2026-01-01"])
    assert road_works_around(cores, pd.Series(["S1"]), NO_WORKS, 6.0).isna().all(axis=None)


def test_works_on_the_day_the_core_was_cut_came_before_it():
    works = _works([shapely.box(-10, -5, 10, 5)], ["2026-01-01"])
    cores = _cores([0.0], ["2026-01-01"])
    assert work_on(cores, pd.Series(["S1"]), works, 6.0, "last before").notna().all()
    assert work_on(cores, pd.Series(["S1"]), works, 6.0, "first after").isna().all()


def test_days_of_another_time_zone_are_compared_as_instants():
    """Works at midnight in Tokyo on 2 January are at 10:00 on 1 January in Toronto, after a core cut at midnight."""
    works = _works([shapely.box(-10, -5, 10, 5)], ["2026-01-02"])
    works["on"] = works["on"].dt.tz_localize(None).dt.tz_localize("Asia/Tokyo")
    cores = _cores([0.0], ["2026-01-01"])
    found = work_on(cores, pd.Series(["S1"]), works, 6.0, "first after")
    assert found[0] == pd.Timestamp("2026-01-01 10:00", tz=_ZONE)
    assert found.dtype == cores["opened_on"].dtype


def test_a_layer_without_works_gives_no_day():
    cores = _cores([0.0], ["2026-01-01"])
    empty = _works([shapely.box(0, 0, 1, 1)], ["2026-01-01"]).iloc[:0]
    assert work_on(cores, pd.Series(["S1"]), empty, 6.0, "last before").isna().all()


def test_a_core_cut_while_the_street_was_protected_has_the_end_of_the_longest_protection():
    """Protected from May 2026: a core cut on the first day is in it, one cut on the last or before the first is not."""
    road = shapely.box(-10, -5, 10, 5)
    protected = _works([road, road, road], ["2026-05-01", "2026-05-01", None]).assign(
        until=_days("2027-05-01", "2029-05-01", "2099-01-01")
    )
    cores = _cores([0.0] * 4, ["2026-05-01", "2026-04-30", "2029-05-01", None])
    found = protected_until(cores, pd.Series(["S1"] * 4), protected, 6.0)
    assert found.dt.strftime("%Y-%m-%d").fillna("none").tolist() == ["2029-05-01", "none", "none", "none"]
    assert protected_until(cores, pd.Series(["S1"] * 4), None, 6.0).isna().all()
