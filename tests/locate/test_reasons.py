"""Why a core is on its segment: the parts of each likelihood, over the lines of a segment, with nothing lost."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.locate import locate
from pipeline.locate.candidates import BestTwo, Pairs, likeliest_two
from pipeline.locate.posterior import Weights
from pipeline.locate.reasons import CANDIDATE_COLUMNS, LEAST_CHANCE, nearest_candidates, weighed_candidates
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Matching


def _weights(position, name, level):
    size = len(position)
    return Weights(
        np.array(position), np.zeros(size, dtype=bool), np.full(size, np.nan), np.array(name), np.array(level),
        np.full(size, np.nan),
    )  # fmt: skip


def _weighed(pairs, number, weights):
    segments = pd.DataFrame({"half_width_m": [3.0, 4.0, 5.0]})
    _, shares = likeliest_two(pairs, number, weights.likelihood, 1)
    return weighed_candidates(pairs, number, weights, shares, segments)


def test_the_lines_of_a_segment_are_one_candidate_whose_parts_still_multiply_to_the_sum():
    """Two lines of one segment and a second segment.

    Position .2 and .3, name .5 and 1, level 1 and .1: the sums are .5, .1 + .3 = .4, and .1 + .03 = .13. So the means
    are .4 / .5 = .8 and .13 / .4 = .325, and .5 x .8 x .325 = .13. The other segment has .1 x 1 x 1.
    """
    pairs = Pairs(np.array([0, 0, 0]), np.array([0, 1, 2]), np.array([5.0, 4.0, 9.0]))
    table = _weighed(pairs, np.array([7, 7, 8]), _weights([0.2, 0.3, 0.1], [0.5, 1.0, 1.0], [1.0, 0.1, 1.0]))
    assert tuple(table.columns) == CANDIDATE_COLUMNS
    assert table["segment"].tolist() == [1, 2]
    assert table[["distance_m", "lines", "half_width_m"]].to_numpy().tolist() == [[4, 2, 4], [9, 1, 5]]
    parts = table[["position_likelihood", "name_likelihood", "level_likelihood"]]
    assert parts.to_numpy()[0] == pytest.approx([0.5, 0.8, 0.325])
    assert parts.prod(axis="columns").tolist() == pytest.approx([0.13, 0.1])
    assert table["chance"].tolist() == pytest.approx([0.13 / 0.23, 0.1 / 0.23])


def test_what_is_less_likely_than_one_in_a_million_is_not_kept():
    pairs = Pairs(np.array([0, 0, 0]), np.array([0, 1, 2]), np.array([1.0, 2.0, 3.0]))
    ones = [1.0, 1.0, 1.0]
    table = _weighed(pairs, np.array([0, 1, 2]), _weights([1.0, 1.1 * LEAST_CHANCE, 0.9 * LEAST_CHANCE], ones, ones))
    assert table["segment"].tolist() == [0, 1]


def test_where_nothing_is_weighed_the_nearest_and_the_next_nearest_are_kept():
    pairs = Pairs(np.array([0, 0, 0, 1]), np.array([0, 1, 2, 1]), np.array([5.0, 3.0, 9.0, 1.0]))
    table = nearest_candidates(pairs, BestTwo(np.array([1, 3]), np.array([0, -1])))
    assert table[["core", "segment", "distance_m"]].to_numpy().tolist() == [[0, 1, 3], [0, 0, 5], [1, 1, 1]]
    assert table["chance"].isna().all()
    assert table.index.tolist() == [0, 1, 2]


def _town():
    return gpd.GeoDataFrame(
        {
            "segment_id": pd.Series(["A", "L"], dtype="str"), "street": pd.Series(["Avenue", "Lane"], dtype="str"),
            "surface": pd.Series(["asphalt", "concrete"], dtype="str"), "half_width_m": [5.0, 2.5],
            "is_underground": False, "start_m": 0.0, "class_name": "other",
            "road_authority": pd.Series([None, None], dtype="str"), "slope_percent": float("nan"),
        },
        geometry=[shapely.LineString([(0, y), (1000, y)]) for y in (0, 15)],
        crs=32617,
    )  # fmt: skip


def _located(**matching):
    """Four cores between two streets: with an accuracy of their own, of their method, of their register, and none."""
    text = pd.Series([None] * 4, dtype="str")
    cores = pd.DataFrame(
        {
            "x_m": 500.0, "y_m": [9.0, 9.0, 9.0, np.nan], "position_accuracy_m": [2.0, np.nan, np.nan, np.nan],
            "position_method": pd.Series(["RTK", "rtk", None, None], dtype="str"),
            "register": "cores.csv",
            "accuracy_by_register_m": [3.0, 3.0, 3.0, np.nan], "rounding_sigma_m": [0.0, 3.0, np.nan, 0.0],
            "opened_on": pd.Series(pd.NaT, range(4), dtype="datetime64[us, UTC]"), "street": text,
            "surface_recorded": text,
        }
    )  # fmt: skip
    settings = Matching(accuracy_by_method={"rtk": "4 m"}, **matching)
    return locate(cores, _town(), None, None, settings, load_catalogue({}, "test"))


def test_the_error_of_a_position_says_what_it_was_taken_from():
    errors = _located().reasons.errors
    assert errors["accuracy_from"].tolist() == ["core", "method", "register", "default"]
    assert errors["accuracy_used_m"].tolist() == [2, 4, 3, 5]
    # 2.4477 sigmas hold 95 % (FGDC-STD-007.3-1998); rounding of 3 m adds as the third side of a right triangle
    assert errors["sigma_m"].tolist() == pytest.approx(
        [2 / 2.4477, np.hypot(4 / 2.4477, 3), 3 / 2.4477, 5 / 2.4477], rel=1e-4
    )
    # half the diagonal of a step: sqrt(24) / 2 standard deviations
    assert errors["reach_m"].tolist() == pytest.approx([15, 15 + 3 * np.sqrt(6), 15, 15])


def test_candidates_and_surfaces_agree_with_the_located_frame():
    located = _located()
    candidates = located.reasons.candidates
    numbered = located.frame.assign(core=range(len(located.frame)))
    own = candidates.merge(numbered, on=["core", "segment"], how="inner", validate="one_to_one")
    assert len(own) == 3
    assert own["chance"].tolist() == pytest.approx(own["segment_confidence"].tolist())
    assert candidates.groupby("core")["chance"].sum().tolist() == pytest.approx([1, 1, 1])
    # where no name is written a likelihood is that of the position alone
    likelihood = candidates["position_likelihood"]
    total = likelihood.groupby(candidates["core"]).transform("sum")
    assert (likelihood / total).tolist() == pytest.approx(candidates["chance"].tolist())
    # each street has a surface of its own: its chance is that of the street
    chances = located.reasons.surfaces
    of_core = chances[chances["core"].eq(1)].set_index("name")["chance"]
    assert of_core[located.frame["surface"][1]] == pytest.approx(located.frame["segment_confidence"][1])


def test_a_programme_that_takes_the_nearest_has_no_chances():
    located = _located(choose="nearest")
    assert located.reasons.surfaces is None
    assert located.reasons.candidates["segment"].tolist()[:2] == [1, 0]
    assert located.reasons.candidates["core"].isin([0, 1, 2]).all()


def test_a_share_above_one_by_rounding_is_one():
    pairs = Pairs(np.array([0]), np.array([0]), np.array([1.0]))
    shares = pd.DataFrame({"core": [0], "segment": [0], "pair": [0], "share": [np.nextafter(1, 2)]})
    segments = pd.DataFrame({"half_width_m": [3.0]})
    table = weighed_candidates(pairs, np.array([0]), _weights([1.0], [1.0], [1.0]), shares, segments)
    assert table["chance"].tolist() == [1.0]
