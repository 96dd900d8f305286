"""Cores and their segments, on streets small enough to draw."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.locate import weighing
from pipeline.locate.candidates import likeliest_two
from pipeline.locate.posterior import Evidence
from pipeline.locate.segments import find_segments as find_segments_and_shares
from pipeline.locate.segments import road_of_segment

_EVIDENCE = Evidence(name_right=0.9, names_near=5, underground=0.02)


def find_segments(cores, segments, reach_m):
    return find_segments_and_shares(cores, segments, reach_m).frame


def _segments(lines, streets=None):
    ids = list(lines)
    return gpd.GeoDataFrame(
        {"segment_id": pd.Series(ids, dtype="str"), "street": pd.Series(streets or ids, dtype="str"), "start_m": 0.0},
        geometry=[shapely.LineString(points) for points in lines.values()],
        crs=32617,
    )


def _cores(*points):
    x, y = zip(*points, strict=True)
    return pd.DataFrame({"x_m": np.array(x, dtype=float), "y_m": np.array(y, dtype=float)})


def test_the_nearest_within_reach_wins_and_the_next_is_the_runner_up():
    """A lies on y = 0, B on y = 10: a core at y = 4 is on A, at y = 6 on B."""
    found = find_segments(_cores((50, 4), (50, 6)), _segments({"A": [(0, 0), (100, 0)], "B": [(0, 10), (100, 10)]}), 15)
    assert found["segment_id"].tolist() == ["A", "B"]
    assert found["runner_up_id"].tolist() == ["B", "A"]
    assert found["offset_m"].tolist() == pytest.approx([4, 4])
    assert found["side"].tolist() == ["left", "right"]
    assert found["chainage_m"].tolist() == pytest.approx([50, 50])


def test_reach_counts_its_own_end_and_what_lies_beyond_is_named():
    found = find_segments(_cores((50, 15), (50, 15.01)), _segments({"A": [(0, 0), (100, 0)]}), 15)
    assert found["segment_id"].fillna("").tolist() == ["A", ""]
    assert found["nearest_id"].fillna("").tolist() == ["", "A"]
    assert found["nearest_m"][1] == pytest.approx(15.01)
    assert found["offset_m"].isna().tolist() == [False, True]


def test_reach_counts_its_own_end_wherever_the_town_lies():
    for far in (0.0, 1.1, 400_000.1, 6_000_000.7):
        segments = _segments({"A": [(far, far), (far + 100, far)]})
        found = find_segments(_cores((far + 50, far + 15), (far + 50, far + 15.01)), segments, 15)
        assert found["segment_id"].fillna("").tolist() == ["A", ""]


def test_a_tie_goes_to_the_first_segment_whatever_the_order_of_cores():
    """Three streets end in one node; the core lies beyond it, as near to each."""
    lines = {"A": [(0, 0), (-100, 0)], "B": [(0, 0), (-100, 50)], "C": [(0, 0), (-100, -50)]}
    found = find_segments(_cores((3, 4), (-50, 90), (3, -4)), _segments(lines), 200)
    assert found["segment_id"].tolist() == ["A", "B", "A"]
    assert found["runner_up_id"][0] == "B"


def test_a_core_without_a_position_has_no_segment_and_moves_nobody_else():
    found = find_segments(_cores((np.nan, np.nan), (50, 4)), _segments({"A": [(0, 0), (100, 0)]}), 15)
    assert found["segment"].tolist() == [-1, 0]
    assert pd.isna(found["segment_id"][0])
    assert pd.isna(found["nearest_id"][0])


def test_a_core_on_the_line_has_no_side():
    found = find_segments(_cores((50, 0), (-3, 0), (50, 0.001)), _segments({"A": [(0, 0), (100, 0)]}), 15)
    assert found["side"].fillna("").tolist() == ["", "", "left"]


def test_pieces_of_one_segment_count_on_and_are_no_runner_up_of_each_other():
    """Segment A in two pieces, the second from chainage 100 on."""
    segments = _segments({"A": [(0, 0), (100, 0)], "A2": [(120, 0), (200, 0)]})
    segments["segment_id"] = pd.Series(["A", "A"], dtype="str")
    segments["start_m"] = [0.0, 100.0]
    found = find_segments(_cores((112, 3)), segments, 15)
    assert found["chainage_m"][0] == pytest.approx(100)
    assert pd.isna(found["runner_up_id"][0])


@settings(deadline=None, max_examples=40)
@given(
    points=st.lists(st.tuples(st.floats(-50, 150), st.floats(-50, 150)), min_size=1, max_size=20),
    seed=st.integers(0, 10_000),
)
def test_order_of_cores_and_a_far_road_change_nothing(points, seed):
    lines = {"A": [(0, 0), (100, 0)], "B": [(0, 10), (100, 10)], "C": [(50, -40), (50, 140)], "D": [(0, 0), (100, 100)]}
    cores = _cores(*points)
    plain = find_segments(cores, _segments(lines), 15)
    order = np.random.default_rng(seed).permutation(len(cores))
    shuffled = find_segments(cores.iloc[order], _segments(lines), 15).loc[cores.index]
    with_far = find_segments(cores, _segments({**lines, "Z": [(9000, 9000), (9100, 9000)]}), 15)
    pd.testing.assert_frame_equal(plain, shuffled)
    pd.testing.assert_frame_equal(plain, with_far)


@settings(deadline=None, max_examples=30)
@given(points=st.lists(st.tuples(st.floats(-50, 150), st.floats(-50, 150)), min_size=1, max_size=20))
def test_the_nearest_segment_is_that_of_a_search_through_all_of_them(points):
    """The second method: every distance by shapely, and the smallest two."""
    lines = {"A": [(0, 0), (100, 0)], "B": [(0, 10), (100, 11)], "C": [(50, -40), (52, 140)], "D": [(0, 0), (100, 99)]}
    segments = _segments(lines)
    found = find_segments(_cores(*points), segments, 15)
    distance = np.array([[line.distance(shapely.Point(point)) for line in segments.geometry] for point in points])
    order = np.argsort(distance, axis=1)
    for row, (first, second) in enumerate(order[:, :2]):
        near, next_near = distance[row, first], distance[row, second]
        if next_near - near < 1e-5 or min(abs(near - 15), abs(next_near - 15)) < 1e-9:
            # a tie, or a hair from the reach: other tests hold these
            continue
        assert (found["segment"][row] >= 0) == (near <= 15)
        assert found["offset_m"].fillna(near)[row] == pytest.approx(near)
        if near <= 15:
            assert found["segment"][row] == first
            assert pd.notna(found["runner_up_id"][row]) == (next_near <= 15)
        else:
            assert found["nearest_id"][row] == "ABCD"[first]
            assert found["nearest_m"][row] == pytest.approx(near)


def test_the_answer_is_on_the_index_of_the_cores_and_has_one_row_each():
    cores = _cores((50, 4), (np.nan, 1), (50, 90)).set_axis([7, 3, 9])
    found = find_segments(cores, _segments({"A": [(0, 0), (100, 0)]}), 15)
    assert found.index.tolist() == [7, 3, 9]
    assert found["segment_id"].fillna("").tolist() == ["A", "", ""]
    assert found["nearest_id"].fillna("").tolist() == ["", "", "A"]
    assert found["segment"].tolist() == [0, -1, -1]


def test_no_core_at_all_and_no_core_with_a_position_are_no_trouble():
    segments = _segments({"A": [(0, 0), (100, 0)]})
    nobody = _cores((1, 1)).iloc[:0]
    assert len(find_segments(nobody, segments, 15)) == 0
    lost = find_segments(_cores((np.nan, np.nan), (np.nan, 2)), segments, 15)
    assert lost.drop(columns="segment").isna().all(axis=None)


def test_without_evidence_there_is_no_confidence_and_there_are_no_shares():
    found = find_segments_and_shares(_cores((50, 4)), _segments({"A": [(0, 0), (100, 0)]}), 15)
    assert found.frame[["segment_confidence", "runner_up_confidence", "name_match"]].isna().all(axis=None)
    assert found.shares.empty


def _weighed(cores, lines, street=None):
    segments = _segments(lines).assign(half_width_m=3.0, is_underground=False)
    segments["street_form"] = segments["street"].str.lower()
    cores = cores.assign(sigma_m=2.0, street_form=pd.Series([street] * len(cores), cores.index, dtype="str"))
    return find_segments_and_shares(cores, segments, 15, _EVIDENCE)


def test_confidence_and_runner_up_are_the_shares_of_the_two_likeliest():
    """Three parallel streets; the core is 2 m from A, 5 m from B and 12 m from C."""
    lines = {"A": [(-500, 0), (500, 0)], "B": [(-500, 7), (500, 7)], "C": [(-500, -10), (500, -10)]}
    found = _weighed(_cores((0, 2)), lines)
    share = found.shares.set_index("segment")["share"]
    assert share.sum() == pytest.approx(1)
    assert share.index.tolist() == [0, 1, 2]
    assert found.frame["segment_id"][0] == "A"
    assert found.frame["segment_confidence"][0] == share[0]
    assert (found.frame["runner_up_id"][0], found.frame["runner_up_confidence"][0]) == ("B", share[1])


def test_shares_name_the_core_by_its_position_whatever_the_order_along_the_curve():
    """The fourth core has no position; the others lie in no order."""
    lines = {"A": [(-500, 0), (500, 0)], "B": [(-500, 400), (500, 400)]}
    found = _weighed(_cores((400, 1), (-400, 401), (0, 2), (np.nan, 0), (0, 200)), lines)
    assert sorted(zip(found.shares["core"], found.shares["segment"])) == [(0, 0), (1, 1), (2, 0)]
    assert found.frame["segment_id"].fillna("").tolist() == ["A", "B", "A", "", ""]


def test_a_street_in_two_lines_is_one_street_beside_a_segment_without_a_name():
    """A footway on y = 1; Mill Road 3 m south in one line, Back Lane 5 m north in one line or in two: half of it each."""
    mill, back = [(-500, -3), (500, -3)], [(-500, 5), (500, 5)]
    lines = {"foot": [(-500, 1), (500, 1)], "mill": mill, "back": back}
    halves = {"foot": lines["foot"], "mill": mill, "back": [(-500, 5), (0, 5)], "back 2": [(0, 5), (500, 5)]}
    chances = []
    for drawn, ids, streets in (
        (lines, ["foot", "mill", "back"], [None, "Mill", "Back"]),
        (halves, ["foot", "mill", "back", "back"], [None, "Mill", "Back", "Back"]),
    ):
        segments = _segments(drawn, streets).assign(half_width_m=3.0, is_underground=False)
        segments["segment_id"] = pd.Series(ids, dtype="str")
        segments["street_form"] = segments["street"].str.lower()
        cores = _cores((0, 0)).assign(sigma_m=2.0, street_form=pd.Series(["mill"], dtype="str"))
        chances.append(find_segments_and_shares(cores, segments, 15, _EVIDENCE).frame["segment_confidence"][0])
    assert chances[1] == pytest.approx(chances[0], abs=1e-12)


def test_the_match_of_names_is_that_of_the_chosen_segment():
    lines = {"Mill": [(-500, 0), (500, 0)], "Back": [(-500, 7), (500, 7)]}
    found = _weighed(_cores((0, 3)), lines, street="back")
    assert found.frame["segment_id"][0] == "Back"
    assert found.frame["name_match"][0] == 1


def test_the_side_turns_with_the_direction_of_the_line_and_the_chainage_counts_from_its_start():
    there = find_segments(_cores((30, 4), (30, -4)), _segments({"A": [(0, 0), (100, 0)]}), 15)
    back = find_segments(_cores((30, 4), (30, -4)), _segments({"A": [(100, 0), (0, 0)]}), 15)
    assert there["side"].tolist() == ["left", "right"]
    assert back["side"].tolist() == ["right", "left"]
    assert there["chainage_m"].tolist() == pytest.approx([30, 30])
    assert back["chainage_m"].tolist() == pytest.approx([70, 70])


def test_at_a_vertex_the_outer_angle_is_on_the_outer_side():
    """The line runs east, then north; the core lies beyond the corner, to the right of both legs."""
    found = find_segments(_cores((103, -4)), _segments({"A": [(0, 0), (100, 0), (100, 100)]}), 15)
    assert found["side"][0] == "right"
    assert found["chainage_m"][0] == pytest.approx(100)
    assert found["offset_m"][0] == pytest.approx(5)


def _road(**more):
    segments = _segments({"A": [(0, 0), (100, 0)], "A2": [(120, 0), (200, 0)], "B": [(0, 50), (10, 50)]})
    segments["segment_id"] = pd.Series(["A", "A", "B"], dtype="str")
    return segments.assign(
        class_name=["main", "main", "local"],
        road_authority=pd.Series(["County", "County", None], dtype="str"),
        slope_percent=[2.0, 3.0, np.nan],
        half_width_m=[5.0, 6.0, 3.5],
        **more,
    )


def test_a_segment_is_as_long_and_as_large_as_all_its_lines():
    # 100 m x 10 m and 80 m x 12 m: 180 m and 1,960 m²; B is 10 m x 7 m
    found = road_of_segment(pd.Series([1, 2], index=[8, 4]), _road(), np.array([0, 0, 1]))
    assert found["segment_length_m"].tolist() == [180, 10]
    assert found["segment_area_m2"].tolist() == [1960, 70]
    assert found.index.tolist() == [8, 4]


def test_a_core_without_a_segment_has_no_road():
    found = road_of_segment(pd.Series([-1, 0]), _road(), np.array([0, 0, 1]))
    assert found.iloc[0].isna().all()
    assert found.loc[1, ["road_class", "road_authority", "slope_percent"]].tolist() == ["main", "County", 2.0]


def test_a_core_on_the_point_of_a_hairpin_has_no_side():
    """There the direction is taken from 1 mm before and after the point, and the point itself is 1 mm off that line."""
    found = find_segments(_cores((100, 0)), _segments({"A": [(0, 0), (100, 0), (0, 1)]}), 15)
    assert pd.isna(found["side"][0])
    assert found["offset_m"][0] == 0


def test_a_share_above_one_by_rounding_is_a_confidence_of_one(monkeypatch):
    def above(*asked):
        best, shares = likeliest_two(*asked)
        return best, shares.assign(share=np.nextafter(1, 2))

    monkeypatch.setattr(weighing, "likeliest_two", above)
    found = _weighed(_cores((0, 2)), {"A": [(-500, 0), (500, 0)]})
    assert found.frame["segment_confidence"].tolist() == [1.0]
