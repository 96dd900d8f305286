"""Coordinates read, told right from wrong, and repaired where that is certain.

The roads lie around 44.8 north, 82.2 west, on open water.
"""

import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import CRS

from pipeline.intake.cells.positions import judge_positions, points_of, read_coordinates

_DEGREES = CRS.from_epsg(4326)
_METRES = CRS.from_epsg(32617)
_ROADS = (-82.25, 44.75, -82.15, 44.85)


def _judge(x, y, crs=_DEGREES, roads=_ROADS, decimal=None):
    texts = pd.Series([x], dtype="str"), pd.Series([y], dtype="str")
    found = judge_positions(read_coordinates(*texts, crs, decimal), crs, roads)
    return found.x[0], found.y[0], found.problem[0], found.repair[0]


@pytest.mark.parametrize(
    ("x", "y", "problem"),
    [
        ("", "44.8", "missing"),
        (None, None, "missing"),
        ("n/a", "n/a", "missing"),
        ("abc", "44.8", "unreadable"),
        ("-82.2O", "44.8", "unreadable"),
        ("inf", "44.8", "unreadable"),
        ("0", "0", "zero"),
        ("0.0", "-0.0", "zero"),
        ("-82.2", "144.8", "out of range"),
        ("-182.2", "44.8", "out of range"),
        ("405166.28", "4961389.5", "projected"),
        ("82.2", "44.8", "sign lost"),
        ("-82.2", "-44.8", "sign lost"),
        ("44.8", "82.2", "sign lost"),
    ],
)
def test_a_position_that_cannot_be_is_named_and_not_used(x, y, problem):
    found_x, found_y, said, repair = _judge(x, y)
    assert np.isnan(found_x)
    assert np.isnan(found_y)
    assert said == problem
    assert pd.isna(repair)


@pytest.mark.parametrize(
    ("x", "y", "repair"),
    [
        ("44.8", "-82.2", "swapped"),
        ("-82,2", "44,8", "decimal comma"),
        ("82°12'00\"W", "44°48'00\"N", "dms"),
        ("W 82 12", "N 44 48", "dms"),
        ("82.2W", "44.8N", "dms"),
        ("-82° 12'", "44.8", "dms"),
    ],
)
def test_a_certain_repair_is_made_and_said(x, y, repair):
    found_x, found_y, problem, said = _judge(x, y)
    assert (found_x, found_y) == pytest.approx((-82.2, 44.8))
    assert pd.isna(problem)
    assert said == repair


def test_a_core_elsewhere_keeps_its_position_for_nothing_shows_a_slip():
    assert _judge("-79.4", "43.6")[:2] == (-79.4, 43.6)


def test_minutes_beyond_sixty_and_a_letter_with_a_sign_are_no_angle():
    assert _judge("82 75 W", "44.8")[2] == "unreadable"
    assert _judge("-82.2 W", "44.8")[2] == "unreadable"


def test_grouped_metres_are_read_but_one_comma_could_be_either():
    roads = (404000.0, 4960000.0, 406000.0, 4962000.0)
    x, y, _, repair = _judge("405,166.28", "4,961,389.5", _METRES, roads)
    assert (x, y, repair) == (405166.28, 4961389.5, "grouped digits")
    assert _judge("405,166", "4961389", _METRES, roads)[2] == "unreadable"


def test_degrees_in_columns_of_metres_are_out_of_range():
    assert _judge("-82.2", "44.8", _METRES, (404000.0, 4960000.0, 406000.0, 4962000.0))[2] == "out of range"


@pytest.mark.parametrize(("x", "y"), [("405000", "1e308"), ("-1e10", "4961000"), ("405000", "999999999999")])
def test_no_place_on_earth_is_a_million_kilometres_off(x, y):
    """A projection turns such a number into some degrees, and sums of it overflow."""
    assert _judge(x, y, _METRES, (404000.0, 4960000.0, 406000.0, 4962000.0))[2] == "out of range"


def test_points_of_a_layer_may_be_missing_empty_or_no_points():
    shapes = np.array(
        [shapely.Point(1, 2), None, shapely.Point(), shapely.LineString([(0, 0), (1, 1)]), shapely.MultiPoint([(3, 4)])]
    )
    found = points_of(shapes)
    assert found.problem.fillna("").tolist() == ["", "missing", "missing", "unreadable", ""]
    assert (found.x[4], found.y[4]) == (3, 4)
