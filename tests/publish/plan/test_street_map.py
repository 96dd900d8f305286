"""Tests of the map of a crew's day."""

import xml.etree.ElementTree as ET

import geopandas as gpd
import numpy as np
import shapely

from pipeline.publish.plan.street_map import draw_street_map, stop_mark
from pipeline.publish.plan.streets import Streets
from pipeline.publish.words import words_of

_WORDS = words_of("en")
_NAME = '<b onload="x">&Road'


def _map(points, tasks=None, units="metric", name=_NAME):
    line = shapely.LineString([(-500, 0), (500, 0)])
    streets = Streets(gpd.GeoDataFrame({"street": [name]}, geometry=[line], crs=32617))
    points = np.array(points, float)
    tasks = tasks or ["reinstate"] * len(points)
    svg = draw_street_map(streets, points, tasks, [name] * len(points), (116, 56), _WORDS, 'Map "1"', units)
    return ET.fromstring(str(svg)), str(svg)


def _texts(root):
    return [text.text for text in root.iter("text")]


def test_stops_are_numbered_in_order_and_their_street_is_named():
    root, _ = _map([(0, 0), (200, 5), (100, 0)])
    assert [text for text in _texts(root) if text in {"1", "2", "3"}] == ["1", "2", "3"]
    assert any(_NAME in text for text in _texts(root))


def test_text_of_a_layer_is_never_markup():
    root, svg = _map([(0, 0)])
    assert "<b " not in svg
    assert root.get("aria-label") == 'Map "1"'


def test_each_task_has_a_shape_of_its_own():
    shapes = [str(stop_mark(1, task)) for task in ("reinstate", "survey", "make safe")]
    assert "<circle" in shapes[0]
    assert "<rect" in shapes[1]
    assert "<path" in shapes[2]


def test_the_scale_is_in_whole_metres_or_feet():
    # one stop: 120 m over 56 mm, so 28 % of 116 mm are 69.6 m or 228 ft
    assert "50 m" in _texts(_map([(0, 0)])[0])
    assert "200 ft" in _texts(_map([(0, 0)], units="us")[0])


def test_the_same_day_gives_the_same_drawing():
    points = [(0, 0), (1, 1), (0, 1), (90, -20)]
    assert _map(points)[1] == _map(points)[1]


def test_a_day_far_from_any_street_is_drawn_too():
    root, _ = _map([(9000, 9000), (9100, 9000)])
    assert "1" in _texts(root)
