"""Tests of the map of a crew's day."""

import xml.etree.ElementTree as ET

import geopandas as gpd
import numpy as np
import shapely

from pipeline.publish.plan.street_map import DayMap, draw_street_maps, stop_mark
from pipeline.publish.plan.streets import Streets
from pipeline.publish.words import words_of

_WORDS = words_of("en")
_NAME = '<b onload="x">&Road'


def _map(points, tasks=None, units="metric", name=_NAME, ways=()):
    line = shapely.LineString([(-500, 0), (500, 0)])
    streets = Streets(gpd.GeoDataFrame({"street": [name]}, geometry=[line], crs=32617))
    points = np.array(points, float)
    tasks = tasks or ["reinstate"] * len(points)
    ways = [np.array(way, float) for way in ways]
    day = DayMap(points, ways, tasks, [name] * len(points), (116, 56), 'Map "1"')
    (svg,) = draw_street_maps(streets, [day], _WORDS, units)
    return ET.fromstring(str(svg)), str(svg)


def _texts(root):
    return [text.text for text in root.iter("text")]


def test_stops_are_numbered_in_order_and_their_street_is_named():
    root, _ = _map([(0, 0), (200, 5), (100, 0)])
    assert [text for text in _texts(root) if text in {"1", "2", "3"}] == ["1", "2", "3"]
    assert any(_NAME in text for text in _texts(root))


def test_a_street_of_a_long_name_is_named_as_far_as_it_fits():
    root, _ = _map([(0, 0)], name="The Reverend Doctor Martin Luther King Junior Memorial Boulevard")
    # 33 letters and a mark that more follows
    assert any("The Reverend Doctor Martin Luther…" in text for text in _texts(root))


def test_a_stop_on_no_named_street_makes_no_street_strong():
    def drawn(root, width):
        (path,) = [path for path in root.iter("path") if path.get("stroke-width") == width]
        return path.get("d") != ""

    named, unnamed = _map([(0, 0)])[0], _map([(0, 0)], name="")[0]
    assert [drawn(named, width) for width in ("0.7", "1.9")] == [False, True]
    assert [drawn(unnamed, width) for width in ("0.7", "1.9")] == [True, False]


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


def test_the_way_is_drawn_as_it_was_travelled_with_a_head_at_the_middle_of_each_leg():
    # one stop and 120 m over 56 mm: 2.14 m per millimetre
    corner = [(-60, -40), (0, -40), (0, 0)]
    root, _ = _map([(0, 0)], ways=[corner, [(0, 0), (90, 0)]])
    legs = [path for path in root.iter("path") if path.get("stroke-dasharray")]
    assert len(legs) == 2
    # from (30, 46.7) mm right by 28 mm, then up by 18.7 mm
    assert legs[0].get("d") == "M30 46.7l28 0l0 -18.7"
    heads = [path.get("transform") for path in root.iter("path") if "rotate" in (path.get("transform") or "")]
    # half of 46.7 mm along, and half of 42 mm along
    assert heads == ["translate(53.3 46.7) rotate(0)", "translate(79.0 28.0) rotate(0)"]


def test_a_way_that_leaves_the_map_ends_at_its_edge():
    root, _ = _map([(0, 0)], ways=[[(-5000, 0), (0, 0)], [(0, 0)]])
    (leg,) = [path for path in root.iter("path") if path.get("stroke-dasharray")]
    assert leg.get("d") == "M0 28l58 0"


def test_a_day_far_from_any_street_is_drawn_too():
    root, _ = _map([(9000, 9000), (9100, 9000)])
    assert "1" in _texts(root)
