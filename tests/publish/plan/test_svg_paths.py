"""Tests of the paths of lines."""

import numpy as np
import shapely

from pipeline.publish.plan.svg_paths import svg_paths


def _line(*points):
    return shapely.LineString(points)


def test_a_path_is_its_first_point_and_the_steps_from_it_in_tenths():
    lines = np.array([_line((1, 2), (1.5, 2), (11.54, -0.04)), _line((0, 0.25), (-0.34, 0.25))], object)
    # 2 to -0.04, which is 0.0 in tenths; half a tenth goes to the even one
    assert svg_paths(lines) == ["M1 2l.5 0l10 -2", "M0 .2l-.3 0"]


def test_a_step_of_nothing_is_left_out():
    assert svg_paths(np.array([_line((0, 0), (0.01, 0.02), (1, 0))], object)) == ["M0 0l1 0"]


def test_no_line_has_an_empty_path():
    assert svg_paths(np.array([shapely.LineString(), _line((0, 0), (1, 0))], object)) == ["", "M0 0l1 0"]
    assert svg_paths(np.array([], object)) == []


def _plain_number(value):
    return f"{value:.1f}".removesuffix(".0").replace("-0.", "-.").removeprefix("0") or "0"


def _plain_path(points):
    whole = np.round(points, 1)
    steps = np.diff(whole, axis=0)
    steps = steps[np.abs(steps).sum(axis=1) > 0]
    start = f"M{_plain_number(whole[0][0])} {_plain_number(whole[0][1])}"
    return start + "".join(f"l{_plain_number(round(x, 1))} {_plain_number(round(y, 1))}" for x, y in steps)


def test_the_paths_of_random_lines_are_those_of_a_plain_loop():
    random = np.random.default_rng(5)
    points = [np.round(random.normal(0, 3, (random.integers(2, 9), 2)), random.integers(0, 4)) for _ in range(200)]
    lines = np.array([shapely.LineString(xy) for xy in points], object)
    assert svg_paths(lines) == [_plain_path(xy) for xy in points]
