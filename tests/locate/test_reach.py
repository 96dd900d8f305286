"""How far from a position its street is looked for: on an avenue on y = 0, 20 m wide, and a lane on y = 15."""

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from pipeline.locate.learning.masses import WIDTHS_M
from pipeline.locate.reach import reach_by_learning_m, reach_of_error_m, whole_reach_m
from tests.locate.learning.grid_town import draw, streets
from tests.locate.test_locate import _AVENUE, _cores, _locate


@pytest.mark.parametrize(("sigma", "reach"), [(1, 15), (2, 15), (2.5, 17), (10, 47), (11, 50)])
def test_a_reach_is_half_a_wide_road_and_four_standard_deviations_between_floor_and_ceiling(sigma, reach):
    assert reach_of_error_m(sigma, 15, 50) == reach


def test_a_sentence_says_whole_metres_and_no_fewer_than_were_set():
    # 15 m, rounding by 7 cm and a large error; nobody looked beyond what is said
    assert whole_reach_m(pd.Series([15.0, 15.07, 39.68]), 15.0).tolist() == [15, 15, 39]
    assert whole_reach_m(pd.Series([7.5, 7.57]), 7.5).tolist() == [7.5, 7.5]


def test_a_floor_above_the_ceiling_counts():
    assert reach_of_error_m(2, 80, 50) == 80


@pytest.mark.parametrize(
    ("metres", "accuracy", "most", "is_found"),
    [
        # 7 m and four standard deviations of 20 / 2.4477 m are 39.68 m
        (39.6, 20, "50 m", True),
        (39.8, 20, "50 m", False),
        (39.6, 20, "30 m", False),
        (29.9, 20, "30 m", True),
        # of 2 m they are less than the 15 m that always count
        (14.9, 2, "50 m", True),
        (15.1, 2, "50 m", False),
        # the default of 5 m is no error of the core's own
        (15.1, np.nan, "50 m", False),
    ],
)
def test_a_core_is_looked_for_as_far_as_its_stated_error_reaches(metres, accuracy, most, is_found):
    found = _locate(_cores((500, -metres, accuracy, None, None)), max_reach=most)
    assert found["segment_id"].notna().tolist() == [is_found]


def test_a_stated_accuracy_of_20_m_leaves_one_core_in_thousands_off_the_network():
    """A Rayleigh error is longer than four standard deviations in exp(-8) of cases, 1 in 2,981."""
    rng = np.random.default_rng(16)
    y = rng.uniform(-_AVENUE, _AVENUE, 2000) + rng.normal(0, 20 / 2.4477, 2000)
    found = _locate(_cores(*((500, place, 20, None, None) for place in y)))
    assert found["segment_id"].isna().sum() <= 2


def test_a_core_is_looked_for_as_far_as_its_learnt_error_reaches():
    """600 cores of a crew with errors of 8 m in streets 75 m apart, 8 m wide: one in ten lies over 15 m from its line."""
    lines = streets()
    names = pd.Series([f"S{number}" for number in range(len(lines))], dtype="str")
    town = gpd.GeoDataFrame(
        {
            "segment_id": names, "street": names, "surface": "asphalt", "half_width_m": 4.0, "is_underground": False,
            "start_m": 0.0, "class_name": "other", "road_authority": pd.Series([None] * len(lines), dtype="str"),
            "slope_percent": np.nan,
        },
        geometry=lines, crs=32617,
    )  # fmt: skip
    drawn = draw(lines, 600, 8.0, 17)
    rows = zip(drawn.x, drawn.y, names[drawn.street], strict=True)
    cores = _cores(*((x, y, np.nan, street, None) for x, y, street in rows))
    plain, learnt = (_locate(cores, segments=town, learn=learn) for learn in (False, True))
    assert plain["segment_id"].isna().sum() > 20
    # 7 m and four standard deviations are 39 m, further than half of the way to the next street
    assert learnt["segment_id"].isna().sum() == 0
    right = (learnt["segment_id"].to_numpy() == names[drawn.line].to_numpy()).mean()
    assert learnt["segment_confidence"].mean() == pytest.approx(right, abs=0.03)


def test_a_register_of_which_nothing_is_learnt_keeps_no_other_from_its_reach():
    """Of the second register errors of 5.2 m were learnt: 7 m and four of them are 27.8 m, and 24.9 m for 4.475 m.

    The third core's accuracy is stated, the fourth has more already; crew B's error is 7.8 m: 38.2 m, and 35 is the most.
    """
    widths = np.zeros(len(WIDTHS_M) + 1)
    own, crew = widths.copy(), widths.copy()
    # a tenth is lost, and says nothing of the others
    own[[WIDTHS_M.tolist().index(5.2), -1]] = 0.9, 0.1
    crew[WIDTHS_M.tolist().index(7.8)] = 1.0
    refused = SimpleNamespace(is_accepted=False, register="a")
    accepted = SimpleNamespace(
        is_accepted=True, register="b", mixture=SimpleNamespace(widths=own), key="crew",
        batches={"B": SimpleNamespace(widths=crew)},
    )  # fmt: skip
    cores = pd.DataFrame(
        {
            "reach_m": [15.0, 15, 15, 40, 15], "rounding_m": 0.0, "may_learn": [True, True, False, True, True],
            "register": ["a", "b", "b", "b", "b"], "crew": ["A", "A", "A", "A", "B"],
        }
    )  # fmt: skip
    assert reach_by_learning_m([refused, accepted], cores, 35).tolist() == pytest.approx([15, 27.8, 15, 40, 35])
