"""Chainage and side, against points taken from each line by itself."""

import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.locate.chainage import chainage_and_side


def _plain(point, line):
    """The plain method: the direction between two points of the line, a millimetre before and after."""
    along = line.project(point)
    before, after = line.interpolate(max(along - 1e-3, 0)), line.interpolate(min(along + 1e-3, line.length))
    dx, dy = after.x - before.x, after.y - before.y
    sideways = (dx * (point.y - before.y) - dy * (point.x - before.x)) / np.hypot(dx, dy)
    if abs(sideways) < 5e-4 or point.distance(line) < 5e-4:
        return along, None
    return along, "left" if sideways > 0 else "right"


def test_points_about_bent_lines_have_the_chainage_and_side_of_each_by_itself():
    """Four hundred lines of two to six legs, far from the origin; some points lie on a vertex or beyond an end."""
    random = np.random.default_rng(5)
    about = np.array([400_000.0, 5_000_000.0])
    points, lines = [], []
    for at in range(400):
        corners = about + random.uniform(-50, 50, (random.integers(3, 8), 2))
        lines.append(shapely.LineString(corners))
        points.append(shapely.Point(corners[1] if at % 10 == 0 else about + random.uniform(-60, 60, 2)))
    offset = pd.Series([point.distance(line) for point, line in zip(points, lines, strict=True)])
    along, side = chainage_and_side(np.array(points), np.array(lines), offset)
    plain = [_plain(point, line) for point, line in zip(points, lines, strict=True)]
    assert along.tolist() == pytest.approx([far for far, _ in plain])
    assert side.astype(object).where(side.notna(), None).tolist() == [side for _, side in plain]


def test_a_vertex_that_is_written_twice_changes_nothing():
    line = shapely.LineString([(0, 0), (0, 0), (10, 0), (10, 0), (10, 10), (10, 10)])
    points = shapely.points([(5, 1), (5, -1), (11, -1), (9, 20), (12, 20), (-3, 0)])
    offset = pd.Series(shapely.distance(points, line))
    along, side = chainage_and_side(points, np.array([line] * 6), offset)
    assert along.tolist() == [5, 5, 10, 20, 20, 0]
    assert side.fillna("on").tolist() == ["left", "right", "right", "left", "right", "on"]


def test_no_point_has_no_side():
    along, side = chainage_and_side(np.array([]), np.array([]), pd.Series([], dtype=float))
    assert (len(along), len(side)) == (0, 0)


def test_half_a_millimetre_off_a_core_has_a_side_and_nearer_it_has_none():
    """The line runs along x = 0: no rounding there, and half a millimetre is the same number on either way to it."""
    line = shapely.LineString([(0, 0), (0, 64)])
    points = shapely.points([(5e-4, 32), (-5e-4, 32), (4.99e-4, 32), (-4.99e-4, 32)])
    _, side = chainage_and_side(points, np.array([line] * 4), pd.Series(shapely.distance(points, line)))
    assert side.fillna("on").tolist() == ["right", "left", "on", "on"]
