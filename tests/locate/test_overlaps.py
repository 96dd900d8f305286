"""Polygons that overlap, cut where the errors of cores reach, against all of them cut one after another."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.locate.chances import area_chances
from pipeline.locate.overlaps import cut_out, overlaps_near


def _without(polygons, x, y, sigma):
    return cut_out(polygons, overlaps_near(polygons, x, y, sigma))


def _around(polygons, *cores):
    """Cores as x, y, sigma."""
    x, y, sigma = np.array(cores, dtype=float).T
    return _without(np.array(polygons), x, y, sigma)


def _all_cut(polygons):
    """The plain method: from each polygon every smaller one is cut out in turn."""
    cut = list(polygons)
    for at, polygon in enumerate(polygons):
        for smaller in polygons[:at]:
            if polygon.intersection(smaller).area > 0.01:
                cut[at] = cut[at].difference(smaller)
    return np.array(cut)


def test_a_patch_is_cut_from_its_street_so_that_chances_add_up():
    small, middle, large = shapely.box(4, 4, 6, 6), shapely.box(0, 0, 10, 10), shapely.box(-50, -50, 50, 50)
    cut = _around([small, middle, large], (5, 5, 2))
    assert shapely.area(cut).tolist() == pytest.approx([4, 96, 9900])
    chances = area_chances(
        np.array([5.0]), np.array([5.0]), np.array([2.0]), cut, np.array(["c", "a", "c"], dtype=object)
    )
    assert chances.table["chance"].sum() == pytest.approx(1, abs=1e-6)
    assert chances.table["name"].tolist() == ["a", "c"]


def test_a_polygon_loses_every_smaller_one_that_lies_in_it():
    """Two patches of 4 m² in a street of 100 m²; a neighbour that only shares its edge loses nothing."""
    patches = [shapely.box(1, 1, 3, 3), shapely.box(6, 6, 8, 8)]
    cut = _around([*patches, shapely.box(0, 0, 10, 10), shapely.box(10, 0, 30, 10)], (5, 5, 9))
    assert shapely.area(cut).tolist() == pytest.approx([4, 4, 92, 200])


def test_an_overlap_that_no_error_reaches_is_left_alone():
    """Patches 20 and 39 m from the core; an error of 4 m is weighed over a square that reaches 24 m each way."""
    patches = [shapely.box(20, -1, 22, 1), shapely.box(39, -1, 41, 1)]
    cut = _around([*patches, shapely.box(-50, -50, 50, 50)], (0, 0, 4))
    assert shapely.area(cut).tolist() == pytest.approx([4, 4, 9996])


def test_without_a_core_nothing_is_cut():
    polygons = [shapely.box(1, 1, 3, 3), shapely.box(0, 0, 10, 10)]
    none = np.empty(0)
    assert shapely.area(_without(np.array(polygons), none, none, none)).tolist() == [4, 100]


def test_an_overlap_smaller_than_a_hand_is_left_alone():
    sliver = shapely.box(9.9995, 0, 12, 10)
    assert shapely.area(_around([sliver, shapely.box(0, 0, 10, 10)], (10, 5, 2)))[1] == 100


def test_the_polygons_given_are_not_changed():
    given_polygons = np.array([shapely.box(1, 1, 3, 3), shapely.box(0, 0, 10, 10)])
    _around(given_polygons, (2, 2, 1))
    assert shapely.area(given_polygons).tolist() == [4, 100]


_BOXES = st.lists(st.tuples(*[st.integers(0, 8)] * 4), min_size=1, max_size=5)


def _sorted(corners):
    boxes = [shapely.box(min(a, c), min(b, d), max(a, c) + 1, max(b, d) + 1) for a, b, c, d in corners]
    return np.array(sorted(boxes, key=lambda box: box.area))


@settings(deadline=None, max_examples=30)
@given(_BOXES)
def test_polygons_without_their_smaller_ones_cover_the_same_ground_once(corners):
    boxes = _sorted(corners)
    cut = _around(boxes, (4, 4, 5))
    assert shapely.area(cut).sum() == pytest.approx(shapely.area(shapely.union_all(boxes)))


@settings(deadline=None, max_examples=100)
@given(_BOXES, st.integers(0, 9), st.integers(0, 9), st.sampled_from([0.1, 0.3, 1.0]))
def test_around_a_core_the_polygons_are_cut_as_if_all_were(corners, x, y, sigma):
    boxes = _sorted(corners)
    reach = 6 * sigma
    around = shapely.box(x - reach, y - reach, x + reach, y + reach)
    ours, plain = (shapely.intersection(cut, around) for cut in (_around(boxes, (x, y, sigma)), _all_cut(boxes)))
    assert shapely.area(shapely.symmetric_difference(ours, plain)).max() == pytest.approx(0, abs=1e-9)


def test_two_cores_near_one_overlap_reach_it_once():
    patch, street = shapely.box(4, 4, 6, 6), shapely.box(0, 0, 10, 10)
    found = overlaps_near(np.array([patch, street]), np.array([5.0, 6.0]), np.array([5.0, 6.0]), np.array([2.0, 2.0]))
    assert (found.larger.tolist(), found.smaller.tolist()) == ([1], [0])


@pytest.mark.parametrize(("east", "north"), [(0, 0), (1000, 0), (0, 1000), (-1000, 7000)])
def test_an_overlap_is_reached_wherever_the_town_lies(east, north):
    """The patch ends half a metre west of the core, whose error is weighed over 0.6 m each way."""
    polygons = [
        shapely.box(4 + east, 4 + north, 4.5 + east, 6 + north),
        shapely.box(east, north, 10 + east, 10 + north),
    ]
    assert shapely.area(_around(polygons, (5 + east, 5 + north, 0.1))).tolist() == pytest.approx([1, 99])
