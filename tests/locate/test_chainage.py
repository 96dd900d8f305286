"""Chainage and side, against points taken from each line by itself."""

import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.locate.chainage import chainage_and_side


def _along_and_side(points, lines, offset):
    """Each point has a line of its own."""
    return chainage_and_side(points, np.arange(len(points)), lines, offset)


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
    along, side = _along_and_side(np.array(points), np.array(lines), offset)
    plain = [_plain(point, line) for point, line in zip(points, lines, strict=True)]
    assert along.tolist() == pytest.approx([far for far, _ in plain])
    assert side.astype(object).where(side.notna(), None).tolist() == [side for _, side in plain]


def test_a_vertex_that_is_written_twice_changes_nothing():
    line = shapely.LineString([(0, 0), (0, 0), (10, 0), (10, 0), (10, 10), (10, 10)])
    points = shapely.points([(5, 1), (5, -1), (11, -1), (9, 20), (12, 20), (-3, 0)])
    offset = pd.Series(shapely.distance(points, line))
    along, side = _along_and_side(points, np.array([line] * 6), offset)
    assert along.tolist() == [5, 5, 10, 20, 20, 0]
    assert side.fillna("on").tolist() == ["left", "right", "right", "left", "right", "on"]


def test_no_point_has_no_side():
    along, side = _along_and_side(np.array([]), np.array([]), pd.Series([], dtype=float))
    assert (len(along), len(side)) == (0, 0)


def _of(point, *corners):
    line = shapely.LineString(corners)
    along, side = _along_and_side(
        shapely.points([point]), np.array([line]), pd.Series([line.distance(shapely.Point(point))])
    )
    return along[0].round(9), side.fillna("none")[0]


def _also_reversed(point, *corners):
    return _of(point, *corners), _of(point, *reversed(corners))


def test_half_way_between_the_arms_of_a_crossing_the_arms_have_to_agree():
    """The line goes east, turns round to the left and crosses itself at 50, 0 going south."""
    loop = [(0, 0), (100, 0), (100, 100), (50, 100), (50, -100)]
    # north-east of the crossing is left of both arms: 60 m along the first, and 110 m before the end of the second
    assert _also_reversed((60, 10), *loop) == ((60, "left"), (110, "right"))
    # south-east is right of the first and left of the second
    assert _also_reversed((60, -10), *loop) == ((60, "none"), (90, "none"))


def test_places_equally_near_that_agree_give_their_side():
    """In the inner angle of a corner, as near to both legs: on the left of each."""
    there, back = _also_reversed((90, 10), (0, 0), (100, 0), (100, 100))
    assert there == (90, "left")
    assert back == (90, "right")


def test_on_a_closed_line_the_last_leg_tells_the_side_straight_beyond_the_first():
    """A triangle that begins and ends at 0, 0: the core lies straight beyond its first leg, and right of its last."""
    there, back = _also_reversed((-1, 0), (0, 0), (10, 0), (0, 10), (0, 0))
    assert there == (0, "right")
    assert back == (0, "left")


def test_beside_a_line_that_turns_back_on_itself_there_is_no_side():
    """Out to 4, 2 and back: every core beside it lies left of one leg and right of the other, also at the turn."""
    for point in [(2, 3), (5, 0), (7, -4), (5, 2.5)]:
        assert {side for _, side in _also_reversed(point, (0, 0), (4, 2), (0, 0))} == {"none"}
    # straight across the turn, whatever rounding makes of it
    for size in (1, 3, 1000):
        corners = [(2 * size, 0), (4 * size, 2 * size), (3 * size, size), (size, 3 * size)]
        assert {side for _, side in _also_reversed((7 * size, -size), *corners)} == {"none"}
    # the turn is all that is near, and of what comes before it nothing turns back
    assert _of((2, 3), (0, 0), (4, 2), (3, 1.5))[1] == "left"


def test_of_places_equally_near_but_for_rounding_the_first_counts():
    """The line runs east and comes back 14 m further north; far from the origin, half way is not quite half way."""
    for far in (0.0, 0.1, 400_000.1, 6_000_000.7):
        corners = [(far, far), (far + 50, far), (far + 50, far + 14), (far, far + 14)]
        along, side = _of((far + 20, far + 7), *corners)
        assert along == pytest.approx(20, abs=1e-6)
        assert side == "left"


def test_half_a_millimetre_off_a_core_has_a_side_and_nearer_it_has_none():
    """The line runs along x = 0: no rounding there, and half a millimetre is the same number on either way to it."""
    line = shapely.LineString([(0, 0), (0, 64)])
    points = shapely.points([(5e-4, 32), (-5e-4, 32), (4.99e-4, 32), (-4.99e-4, 32)])
    _, side = _along_and_side(points, np.array([line] * 4), pd.Series(shapely.distance(points, line)))
    assert side.fillna("on").tolist() == ["right", "left", "on", "on"]
