"""Cores and their segments, on streets small enough to draw."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.locate.segments import find_segments as find_segments_and_shares


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
