"""Tests of where names go on small maps."""

import math

import numpy as np
import pytest
import shapely

from pipeline.publish.plan.labels import Label, NamedMap, label_width, place_names
from pipeline.publish.plan.markers import place_markers
from pipeline.publish.plan.streets import Street


def _street(name, *points, has_stop=True):
    return Street(name, shapely.LineString(points), has_stop)


def _names(streets, markers, wide, high):
    return place_names([NamedMap(streets, markers, wide, high)], 4, 6)[0]


def test_a_text_is_as_wide_as_its_letters():
    # Helvetica: i 0.22, m 0.86, a and digits 0.556; East Asian letters are square
    assert label_width("im", 10) == pytest.approx(10.8)
    assert label_width("a1", 1) == pytest.approx(1.112)
    assert label_width("道路", 4) == pytest.approx(8)


def test_a_name_lies_along_its_street_and_is_never_upside_down():
    labels = _names([_street("Quay Road", (80, 10), (20, 40))], [], 100, 50)
    # from (20, 40) up to (80, 10): 30 up over 60 along
    assert labels[0].angle == pytest.approx(-math.degrees(math.atan2(30, 60)))


def test_a_name_does_not_cover_a_stop_or_another_name():
    marks = place_markers(np.array([[50.0, 40.0]]), 6, 100, 80)
    streets = [_street("Quay Road", (0, 40), (100, 40)), _street("Oat Lane", (50, 0), (50, 80), has_stop=False)]
    labels = _names(streets, marks, 100, 80)
    assert [label.text for label in labels] == ["Quay Road", "Oat Lane"]
    assert abs(labels[0].x - 50) > label_width("Quay Road", 4) / 2 + 3


def test_the_street_of_a_stop_is_named_even_where_it_is_too_short_and_another_is_not():
    short = ((48, 25), (52, 25))
    assert [label.text for label in _names([_street("Quay Road", *short)], [], 100, 50)] == ["Quay Road"]
    assert _names([_street("Quay Road", *short, has_stop=False)], [], 100, 50) == []


def _plain_box(text, x, y, angle):
    half, turn = label_width(text, 4) / 2, math.radians(angle)
    box = np.array([[-half, -2], [half, -2], [half, 2], [-half, 2]])
    turned = box @ np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    return shapely.Polygon(turned + np.array([x, y]))


def _plain_along(street):
    """Return the places on stretches that are straight enough, those of the longest line first."""
    half = label_width(street.name, 4) / 2
    for line in sorted(shapely.get_parts(street.lines), key=lambda one: (-round(one.length, 3), one.wkt)):
        for share in (0.5, 0.3, 0.7, 0.15, 0.85):
            middle = share * line.length
            if middle - half < 0 or middle + half > line.length:
                continue
            (ax, ay), (bx, by) = (line.interpolate(middle + way * half).coords[0] for way in (-1, 1))
            if math.hypot(bx - ax, by - ay) < 2 * half * 0.97:
                continue
            turn = math.degrees(math.atan2(by - ay, bx - ax))
            turn = turn - 180 if turn > 90 else turn + 180 if turn <= -90 else turn
            yield (*line.interpolate(middle).coords[0], turn)


def _plain_beside(street, wide, high):
    """Return the places level beside the middle of a street, the nearest first."""
    line, half = street.lines, label_width(street.name, 4) / 2
    is_line = line.geom_type == "LineString"
    x, y = (line.interpolate(0.5, normalized=True) if is_line else line.representative_point()).coords[0]
    low, most = half + 0.5, max(wide - half - 0.5, half + 0.5)
    x = min(max(x, low), most)
    for step in (1, 2, 3):
        for aside in (0.0, 0.8, -0.8):
            for at in (y - step * 4 * 0.8, y + step * 4 * 0.8):
                if 4 <= at <= high - 4:
                    yield min(max(x + aside * half, low), most), at, 0.0


def _plain_names(one):
    """Return the names of a map, one street after the other, each at its first free place."""
    taken = [shapely.Point(mark.x, mark.y).buffer(3.4) for mark in one.markers]
    frame = shapely.box(0, 0, one.wide, one.high)
    labels = []
    for street in one.streets:
        if not street.name or (not street.has_stop and sum(not label.has_stop for label in labels) >= 14):
            continue
        beside = _plain_beside(street, one.wide, one.high) if street.has_stop else []
        for place in [*_plain_along(street), *beside]:
            box = _plain_box(street.name, *place)
            if frame.contains(box) and not any(box.intersects(other) for other in taken):
                taken.append(box)
                labels.append(Label(street.name, *place, street.has_stop))
                break
    return labels


def _random_map(random):
    streets = []
    for number in range(random.integers(1, 45)):
        points = np.cumsum(random.normal(0, random.choice([2, 8, 30]), (random.integers(2, 6), 2)), axis=0)
        points += random.uniform(0, 70, 2)
        lines = shapely.LineString(points)
        if number % 6 == 5:
            lines = shapely.MultiLineString([lines, shapely.LineString(points[::-1] + 9), [(0, 0), (40, 1)]])
        name = "" if number % 9 == 8 else "A long and winding lane"[: random.integers(3, 23)]
        streets.append(Street(name, lines, bool(random.integers(0, 2))))
    marks = place_markers(random.uniform(0, 60, (random.integers(0, 14), 2)), 6, 112, 60)
    return NamedMap(streets, marks, 112.0, 60.0)


def test_the_names_of_many_maps_are_those_of_each_map_worked_out_plainly():
    random = np.random.default_rng(11)
    maps = [_random_map(random) for _ in range(60)]
    expected = [_plain_names(one) for one in maps]
    for mine, plain in zip(place_names(maps, 4, 6), expected, strict=True):
        assert [(label.text, label.has_stop) for label in mine] == [(label.text, label.has_stop) for label in plain]
        assert [label[1:4] for label in mine] == [pytest.approx(label[1:4], abs=1e-9) for label in plain]
    assert sum(map(len, expected)) > 400


def test_a_map_without_streets_has_no_names():
    assert place_names([NamedMap([], [], 100.0, 50.0)] * 2, 4, 6) == [[], []]
