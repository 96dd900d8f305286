"""How much of an error lies on a road, against numerical integrals of the density and lengths measured by GEOS.

strips of a road of half width h, from its centre line to the left:

0 ---- h/4 ---- h/2 ---- h ------- h + 2.5 m
|line, middle| |  left  |  footway  |       even: from -h to h
"""

import itertools

import numpy as np
import pytest
import shapely
from scipy.integrate import dblquad

from pipeline.locate.learning import masses
from pipeline.locate.learning.masses import STRIPS, WIDTHS_M, Side, Spots, masses_of, slopes_of
from pipeline.locate.posterior import pieces_of

_HALF = 4.0
_BENT = np.array([shapely.LineString([(0, 0), (30, 0), (48, 24)]), shapely.LineString([(10, 12), (40, 3)])])
_BANDS = {
    "even": [(-4, 4)], "line": [(-0.2, 0.2)], "middle": [(-1, 1)], "left": [(2, 4)], "right": [(-4, -2)], "footway": [(4, 6.5), (-6.5, -4)],
}  # fmt: skip


def _spots(points, line, rounding=0.0, reach=15.0):
    x, y = np.array(points, dtype=float).T
    every = np.ones(len(x))
    return Spots(x, y, rounding * every, np.array(line), _HALF * every, reach * every)


def _by_integral(x, y, line, sigma, strip):
    """Integrate the density of the error over the strip beside each leg, per metre of the strip's width."""
    total, wide = 0.0, sum(far - near for near, far in _BANDS[strip])
    corners = shapely.get_coordinates(line)
    for start, end in itertools.pairwise(corners):
        long = np.hypot(*(end - start))
        ux, uy = (end - start) / long
        for near, far in _BANDS[strip]:

            def density(across, along, start=start, ux=ux, uy=uy):
                px, py = start[0] + along * ux - across * uy, start[1] + along * uy + across * ux
                return np.exp(-((px - x) ** 2 + (py - y) ** 2) / (2 * sigma**2)) / (2 * np.pi * sigma**2)

            total += dblquad(density, 0, long, near, far, epsabs=1e-10)[0]
    return total / wide


@pytest.mark.parametrize("point", [(12, 1), (31, -3.5), (44, 14), (-2, 5)])
@pytest.mark.parametrize("strip", STRIPS)
def test_a_mass_is_the_integral_of_the_error_over_the_strip(point, strip):
    widths = np.array([1.6, 5.2])
    found = masses_of(_spots([point] * 2, [0, 1]), pieces_of(_BENT), widths).known
    expected = [[_by_integral(*point, line, sigma, strip) for sigma in widths] for line in _BENT]
    assert found[:, :, STRIPS.index(strip)] == pytest.approx(np.array(expected), rel=2e-4, abs=1e-7)


def test_rounded_digits_add_their_error():
    """3 m of the instrument and 4 m of rounding are 5 m."""
    rounded = masses_of(_spots([(12, 2)], [0], rounding=4.0), pieces_of(_BENT), np.array([3.0]))
    plain = masses_of(_spots([(12, 2)], [0]), pieces_of(_BENT), np.array([5.0]))
    assert rounded.known == pytest.approx(plain.known, rel=1e-6)


def test_a_lost_core_is_as_likely_on_a_road_as_its_length_within_reach():
    points = [(12, 1), (31, -14.5), (30, 0), (60, 20), (5, 14)]
    found = masses_of(_spots(points, [0] * 5), pieces_of(_BENT)).lost
    circles = shapely.buffer(shapely.points(points), 15, quad_segs=2000)
    expected = shapely.length(shapely.intersection(circles, _BENT[0])) / (np.pi * 15**2)
    assert found == pytest.approx(expected, rel=1e-4)


def test_a_core_out_of_reach_of_a_road_is_not_lost_on_it():
    assert masses_of(_spots([(10, -15.5)], [0]), pieces_of(_BENT)).lost == pytest.approx([0.0])


def test_the_left_kerb_is_on_the_left_of_the_line():
    """An eastbound road: a core 3 m north of it is by the left kerb."""
    road = np.array([shapely.LineString([(-500, 0), (500, 0)])])
    (known,) = masses_of(_spots([(0, 3)], [0]), pieces_of(road), np.array([0.1])).known[:, 0]
    # all of the error is within the 2 m of the strip
    assert known[STRIPS.index("left")] == pytest.approx(1 / 2, rel=1e-6)
    assert known[STRIPS.index("right")] == pytest.approx(0, abs=1e-6)
    assert known[STRIPS.index("even")] == pytest.approx(1 / 8, rel=1e-6)


@pytest.mark.parametrize("side", [Side(0.0, 1.0), Side(0.8, 0.6)])
def test_a_compass_side_does_not_depend_on_how_the_line_was_drawn(side):
    lines = np.array([*_BENT, *shapely.reverse(_BENT)])
    point = (20, 3)
    known = masses_of(_spots([point] * 4, [0, 1, 2, 3]), pieces_of(lines), side=side).known
    assert known[:2] == pytest.approx(known[2:], rel=1e-5, abs=1e-7)
    # and without a side, left and right change places
    known = masses_of(_spots([point] * 4, [0, 1, 2, 3]), pieces_of(lines)).known
    left, right = STRIPS.index("left"), STRIPS.index("right")
    assert known[:2, :, left] == pytest.approx(known[2:, :, right], rel=1e-5, abs=1e-7)


def test_strips_about_the_centre_line_are_moved_to_where_mains_lie():
    """A line to the east, mains 0.5 half widths to the north of it: at y = 2 lies what else lies at y = 0."""
    lines = np.array([shapely.LineString([(0, 0), (100, 0)]), shapely.LineString([(100, 0), (0, 0)])])
    plain = masses_of(_spots([(50, 0), (50, 2)], [0, 0]), pieces_of(lines)).known
    moved = masses_of(_spots([(50, 2), (50, 2)], [0, 1]), pieces_of(lines), side=Side(0.0, 1.0, 0.5)).known
    for strip, name in enumerate(STRIPS):
        expected = plain[0 if name in {"line", "middle"} else 1, :, strip]
        assert moved[0, :, strip] == pytest.approx(expected, rel=1e-5)
        assert moved[1, :, strip] == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("side", [None, Side(0.6, 0.8), Side(0.6, 0.8, 0.7)])
def test_slopes_are_what_a_small_step_changes(side):
    """The mean of a step of 1 cm to either side, over random shares; the masses themselves in the middle."""
    rng = np.random.default_rng(5)
    points, line = rng.uniform([-5, -8], [50, 30], (40, 2)), rng.integers(0, 2, 40)
    # narrow errors bend too much over a step for this comparison
    shares = np.where(WIDTHS_M[:, None] > 0.5, rng.uniform(size=(len(WIDTHS_M), len(STRIPS))), 0.0)
    pieces = pieces_of(_BENT)

    def likelihood(dx, dy, off=0.0):
        there = side._replace(off=side.off + off) if off else side
        known = masses_of(_spots(points + np.array([dx, dy]), line), pieces, side=there).known.astype(float)
        return (known * shares).sum(axis=(1, 2))

    step = 0.01
    slopes = slopes_of(_spots(points, line), pieces, shares, side=side)
    assert slopes.known == pytest.approx(likelihood(0, 0), rel=1e-5, abs=1e-7)
    by_x, by_y = likelihood(step, 0) - likelihood(-step, 0), likelihood(0, step) - likelihood(0, -step)
    assert slopes.by_x == pytest.approx(by_x / (2 * step), rel=1e-2, abs=2e-4)
    assert slopes.by_y == pytest.approx(by_y / (2 * step), rel=1e-2, abs=2e-4)
    if side is not None and side.off:
        by_off = likelihood(0, 0, step) - likelihood(0, 0, -step)
        assert slopes.by_off == pytest.approx(by_off / (2 * step), rel=1e-2, abs=1e-3)


def test_how_many_are_weighed_at_a_time_changes_nothing(monkeypatch):
    rng = np.random.default_rng(6)
    spots = _spots(rng.uniform([-5, -8], [50, 30], (50, 2)), rng.integers(0, 2, 50))
    at_once = masses_of(spots, pieces_of(_BENT))
    monkeypatch.setattr(masses, "_CHUNK", 7)
    in_parts = masses_of(spots, pieces_of(_BENT))
    assert np.array_equal(at_once.known, in_parts.known)
    assert np.array_equal(at_once.lost, in_parts.lost)
