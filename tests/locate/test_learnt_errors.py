"""What was learnt of the errors of positions, as it is put to use; by hand."""

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.locate import _with_learnt, learnt_errors
from pipeline.locate.candidates import Pairs
from pipeline.locate.learning.masses import WIDTHS_M
from pipeline.locate.learnt_errors import Blurs, Learning, LearntErrors, _errors, blurs_of, learn_errors, with_learnt
from pipeline.locate.posterior import Evidence, Weights, pieces_of

# the first core's accuracy is stated; the second's error is 3 m wide, one time in four, or 1 m
_LEARNT = LearntErrors(np.array([[0, 0, 0], [0.25, 0.75, 0]]), np.array([3.0, 1.0, 8.0]), [])


def test_the_error_of_a_core_has_the_variance_of_its_mixture():
    """0.25 * 3^2 + 0.75 * 1^2 = 3."""
    assert _LEARNT.sigma_m.tolist() == pytest.approx([0, np.sqrt(3)])
    assert _LEARNT.is_learnt.tolist() == [False, True]


def test_a_learnt_error_takes_the_place_of_the_default_and_no_accuracy_is_given_for_it():
    """With 1 m of rounding, a variance of 3 + 1 = 4."""
    errors = pd.DataFrame(
        {
            "accuracy_used_m": [2.0, 5.0],
            "accuracy_from": pd.Series(["core", "default"], dtype="str"),
            "sigma_m": [0.8, 2.5],
            "reach_m": [15.0, 20.0],
        }
    )
    found = _with_learnt(errors, np.array([1.0, 1.0]), _LEARNT)
    assert found["accuracy_used_m"].fillna(-1).tolist() == [2, -1]
    assert found["accuracy_from"].tolist() == ["core", "learnt"]
    assert found["sigma_m"].tolist() == pytest.approx([0.8, 2])
    assert found["reach_m"].tolist() == [15, 20]
    assert _with_learnt(errors, np.array([1.0, 1.0]), None) is errors


def test_a_stated_error_is_one_normal_and_a_learnt_one_as_many_as_it_has_widths():
    """Rounding by 4 m: hypot(3, 4) is 5, hypot(1, 4) the root of 17. The stated error has its rounding in it."""
    found = blurs_of(np.array([7.0, 2.5]), np.array([1.0, 4.0]), _LEARNT)
    assert found.core.tolist() == [0, 1, 1]
    assert found.sigma.tolist() == pytest.approx([7, 5, np.sqrt(17)])
    assert found.share.tolist() == [1, 0.25, 0.75]
    plain = blurs_of(np.array([7.0, 2.5]), np.array([1.0, 4.0]), None)
    assert [part.tolist() for part in plain] == [[0, 1], [7, 2.5], [1, 1]]


def test_some_cores_take_their_errors_with_them_under_their_new_numbers():
    blurs = Blurs(np.array([0, 1, 1, 3]), np.array([7.0, 5.0, 4.0, 2.0]), np.array([1, 0.25, 0.75, 1]))
    some = blurs.of(np.array([1, 3]), 4)
    assert [part.tolist() for part in some] == [[0, 0, 1], [5, 4, 2], [0.25, 0.75, 1]]
    # the third core has no error at all
    assert blurs.widest(4).tolist() == [7, 5, 0, 2]


def test_widths_of_less_than_a_fiftieth_are_left_out_and_the_others_add_up_again():
    """Of 0.01, 0.39 and 0.6 the first goes: 0.39 / 0.99 and 0.6 / 0.99."""
    widths = np.zeros((2, len(WIDTHS_M) + 1))
    widths[1, [0, 3, -1]] = 0.01, 0.39, 0.6
    found = _errors(SimpleNamespace(widths=widths), Learning([], 80.0))
    assert found.widths[0].tolist() == [0] * (len(WIDTHS_M) + 1)
    assert found.widths[1, [0, 3, -1]].tolist() == pytest.approx([0, 39 / 99, 60 / 99])
    assert found.widths[1].sum() == pytest.approx(1)
    assert found.sigmas.tolist() == [*WIDTHS_M, 80]
    assert found.outcomes == []


def test_only_a_core_whose_error_was_not_learnt_can_lie_beyond_it(monkeypatch):
    """Two cores beyond the default, one within it; of the second an error was learnt."""
    three = np.arange(3)
    learnt = SimpleNamespace(
        position=three + 7.0, is_learnt=three == 1, name_right=np.full(3, 0.8), widths=np.zeros((3, len(WIDTHS_M) + 1))
    )
    monkeypatch.setattr(learnt_errors, "_asked", lambda *_: None)
    monkeypatch.setattr(learnt_errors, "applied", lambda *_: learnt)
    one, match = np.ones(3), np.array([1.0, 0.0, np.nan])
    weights = Weights(one, np.array([True, True, False]), match, one, one, match)
    evidence = Evidence(name_right=0.9, names_near=5, underground=0.02)
    pairs = Pairs(three, three, one)
    changed, _ = with_learnt(pairs, None, None, weights, evidence, None, Learning([], 80.0))
    assert changed.is_beyond_error.tolist() == [True, False, False]
    assert changed.position.tolist() == [7, 8, 9]
    # 0.8 right, and 0.2 spread over five names
    assert changed.name.tolist() == pytest.approx([0.84, 0.04, 1])


def test_what_is_asked_of_a_register_by_hand(monkeypatch):
    """Mill on y = 0, Back on y = 10, a path without a name on y = 20; the fourth core has none within reach.

    The third core's accuracy is stated: nothing is learnt from it. Reach 14, 15, 16 and 40 m: their median is 15.5 m.
    """
    asked = []
    monkeypatch.setattr(learnt_errors, "outcomes_of", lambda question: asked.append(question) or [])
    names = pd.Series(["mill", "back", None], dtype="str")
    segments = gpd.GeoDataFrame(
        {"street_form": names, "half_width_m": [3.0, 4.0, 1.0], "is_underground": False, "has_width": [True, False, True]},
        geometry=[shapely.LineString([(-500, y), (500, y)]) for y in (0, 10, 20)],
    )  # fmt: skip
    cores = pd.DataFrame(
        {
            "x_m": 0.0, "y_m": [1.0, 8.0, 19.0, 90.0], "sigma_m": 2.0, "rounding_m": 0.5, "reach_m": [14.0, 15, 16, 40],
            "street_form": pd.Series(["mill"] * 4, dtype="str"), "may_learn": [True, True, False, True], "register": "cores",
        }
    )  # fmt: skip
    core, line = np.array([0, 0, 1, 1, 1, 2, 2]), np.array([0, 1, 0, 1, 2, 1, 2])
    distance = np.abs(cores["y_m"].to_numpy()[core] - 10 * line)
    evidence = Evidence(name_right=0.9, names_near=5, underground=0.02)
    pieces = pieces_of(np.asarray(segments.geometry.array))
    for is_first in (True, False):
        learning = learn_errors(Pairs(core, line, distance), cores, segments, evidence, pieces, is_first=is_first)
        assert learning.lost_m == 15.5 / 2
        assert asked[-1].is_first is is_first
    question = asked[-1]
    assert question.core.tolist() == [0, 0, 1, 1, 1]
    # the path has no number; by the nearest line, all four differ: Mill, Back, a path of its own, and no line at all
    assert question.line_street.tolist() == [0, 1, 0, 1, -1]
    assert len(set(question.street.tolist())) == 4
    assert question.spots.half.tolist() == [3, 4, 3, 4, 1]
    assert question.lie.nearest.tolist() == [1, 2, 1, np.inf]
    assert question.lie.half.tolist()[:3] == [3, 4, 1]
    assert question.lie.has_width.tolist()[:3] == [True, False, True]
