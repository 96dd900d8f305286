"""Candidate segments of a core: which lie within reach, and which two are best."""

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.locate.candidates import Pairs, likeliest_two, nearest_shape, nearest_two, pairs_within_reach


def _pairs(*rows):
    """Rows of core, line, distance."""
    core, line, distance = zip(*rows)
    return Pairs(np.array(core), np.array(line), np.array(distance, dtype=float))


_NO_PAIRS = Pairs(np.array([], dtype=int), np.array([], dtype=int), np.array([]))


def _reach(points, lines, reach_m):
    lines = np.array([shapely.LineString(line) for line in lines])
    found = pairs_within_reach(shapely.points(points), lines, shapely.STRtree(lines), reach_m)
    return sorted(zip(found.core.tolist(), found.line.tolist(), found.distance.tolist()))


def test_a_line_exactly_at_the_reach_is_within_it():
    assert _reach([(50, 15)], [[(0, 0), (100, 0)]], 15.0) == [(0, 0, 15.0)]
    assert _reach([(50, 15)], [[(0, 0), (100, 0)]], 14.999) == []


def test_a_line_in_the_corner_of_the_box_but_beyond_the_circle_is_out_of_reach():
    """The line starts 10 m east and 10 m north of the core: 14.1 m away, while a box of 12 m reaches it."""
    assert _reach([(0, 0)], [[(10, 10), (100, 10)]], 12.0) == []
    assert _reach([(0, 0)], [[(10, 10), (100, 10)]], 15.0)[0][2] == pytest.approx(200**0.5)


def test_a_core_has_a_pair_with_every_line_within_reach():
    lines = [[(0, 0), (100, 0)], [(0, 8), (100, 8)], [(0, 90), (100, 90)]]
    assert _reach([(50, 2), (50, 80)], lines, 15.0) == [(0, 0, 2.0), (0, 1, 6.0), (1, 2, 10.0)]


def test_the_nearest_shape_is_found_at_any_distance_and_a_tie_goes_to_the_first():
    lines = np.array([shapely.LineString(line) for line in ([(0, 50), (9, 50)], [(0, -50), (9, -50)])])
    line, distance = nearest_shape(shapely.points([(5, 0), (5, -1), (5, 9000)]), shapely.STRtree(lines))
    assert line.tolist() == [0, 1, 0]
    assert distance.tolist() == [50, 49, 8950]


def test_of_lines_as_near_but_for_rounding_the_first_is_the_nearest():
    """Far from the origin, half way between two lines is not quite half way: which is nearer changes with the place."""
    for far in (0.0, 0.1, 400_000.1, 6_000_000.7):
        lines = np.array([shapely.LineString([(far, far + y), (far + 90, far + y)]) for y in (99.4, 0)])
        line, distance = nearest_shape(shapely.points([(far + 5, far + 49.7)]), shapely.STRtree(lines))
        assert line.tolist() == [0]
        assert distance[0] == pytest.approx(49.7)


def test_no_point_has_no_nearest_line():
    line, distance = nearest_shape(np.array([], dtype=object), shapely.STRtree([shapely.LineString([(0, 0), (1, 0)])]))
    assert (len(line), len(distance)) == (0, 0)


def test_the_nearest_segment_comes_first_and_the_next_other_segment_second():
    """Core 0 has three lines, the two nearest of one segment; core 1 has one line; core 2 has none."""
    pairs = _pairs((0, 0, 4), (0, 1, 5), (0, 2, 9), (1, 2, 3))
    best = nearest_two(pairs, np.array([7, 7, 8]), 3)
    assert best.first.tolist() == [0, 3, -1]
    assert best.second.tolist() == [2, -1, -1]


@pytest.mark.parametrize(("behind", "first"), [(0.0, 0), (1e-9, 0), (1e-3, 1)])
def test_distances_that_only_rounding_separates_are_equal_and_the_first_line_counts(behind, first):
    best = nearest_two(_pairs((0, 0, 5 + behind), (0, 1, 5)), np.array([0, 1]), 1)
    assert best.first.tolist() == [first]
    assert best.second.tolist() == [1 - first]


def test_without_pairs_no_core_has_a_candidate():
    best = nearest_two(_NO_PAIRS, np.array([0, 1]), 2)
    assert (best.first.tolist(), best.second.tolist()) == ([-1, -1], [-1, -1])
    best, shares = likeliest_two(_NO_PAIRS, np.array([0, 1]), np.array([]), 2)
    assert (best.first.tolist(), best.second.tolist()) == ([-1, -1], [-1, -1])
    assert shares.empty


def test_shares_are_likelihoods_over_their_sum():
    # 3 : 1 is three quarters and one quarter; the second core has a single segment
    pairs = _pairs((0, 0, 4), (0, 1, 2), (1, 1, 3))
    best, shares = likeliest_two(pairs, np.array([0, 1]), np.array([0.3, 0.1, 0.001]), 2)
    assert shares["share"].tolist() == pytest.approx([0.75, 0.25, 1])
    assert best.first.tolist() == [0, 2]
    assert best.second.tolist() == [1, -1]


def test_the_lines_of_one_segment_add_up_and_the_nearest_represents_them():
    """Two lines of segment 5, 0.2 each, beat one line of segment 6 with 0.3."""
    pairs = _pairs((0, 0, 9), (0, 1, 4), (0, 2, 1))
    best, shares = likeliest_two(pairs, np.array([5, 5, 6]), np.array([0.2, 0.2, 0.3]), 1)
    assert best.first.tolist() == [1]
    assert best.second.tolist() == [2]
    assert shares[["segment", "pair"]].to_numpy().tolist() == [[1, 1], [2, 2]]
    assert shares["share"].tolist() == pytest.approx([4 / 7, 3 / 7])


@pytest.mark.parametrize(("ahead", "first"), [(0.0, 0), (1e-12, 0), (1e-6, 1)])
def test_shares_that_only_rounding_separates_are_equal_and_the_first_line_counts(ahead, first):
    best, _ = likeliest_two(_pairs((0, 0, 5), (0, 1, 5)), np.array([1, 0]), np.array([1.0, 1.0 + ahead]), 1)
    assert best.first.tolist() == [first]


_LIKELIHOODS = st.lists(st.floats(1e-6, 1), min_size=1, max_size=12)


@settings(deadline=None, max_examples=50)
@given(st.lists(_LIKELIHOODS, min_size=1, max_size=5), st.data())
def test_shares_of_a_core_add_up_to_one_whatever_the_common_factor(per_core, data):
    core = np.repeat(np.arange(len(per_core)), [len(one) for one in per_core])
    line = np.concatenate([np.arange(len(one)) for one in per_core])
    pairs = Pairs(core, line, np.ones(len(core)))
    likelihood = np.concatenate([np.array(one) for one in per_core])
    number = np.array(data.draw(st.lists(st.integers(0, 3), min_size=12, max_size=12)))
    best, shares = likeliest_two(pairs, number, likelihood, len(per_core))
    assert shares.groupby("core")["share"].sum().to_numpy() == pytest.approx(np.ones(len(per_core)))
    # powers of two, so that the factor rounds nothing
    factor = 2.0 ** np.arange(len(per_core))
    scaled, same = likeliest_two(pairs, number, likelihood * factor[core], len(per_core))
    pd.testing.assert_frame_equal(shares, same)
    assert scaled.first.tolist() == best.first.tolist()
    # the runner-up is never of the same segment
    both = best.second >= 0
    assert (number[line[best.first[both]]] != number[line[best.second[both]]]).all()


def _plain_two(pairs, segment_of_line, likelihood, count):
    """The plain method: each core by itself, with the sums of a dictionary."""
    first, second, rows = [-1] * count, [-1] * count, []
    for core in range(count):
        mine = np.flatnonzero(pairs.core == core)
        total = sum(likelihood[mine])
        shares, nearest = {}, {}
        for pair in sorted(mine, key=lambda at: (pairs.distance[at], pairs.line[at])):
            number = segment_of_line[pairs.line[pair]]
            nearest.setdefault(number, pair)
            shares[number] = shares.get(number, 0) + likelihood[pair] / total
        rows += [(core, pairs.line[nearest[number]], nearest[number], shares[number]) for number in sorted(shares)]
        ranked = sorted(shares, key=lambda number: (-round(shares[number], 9), pairs.line[nearest[number]]))
        for found, number in zip((first, second), ranked, strict=False):
            found[core] = nearest[number]
    return first, second, rows


def test_the_likeliest_two_are_those_of_each_core_by_itself():
    random = np.random.default_rng(3)
    for _ in range(200):
        lines, count = random.integers(1, 9), random.integers(1, 6)
        core, line = np.nonzero(random.random((count, lines)) < 0.7)
        pairs = Pairs(core, line, random.integers(0, 4, len(core)).astype(float))
        likelihood = random.choice([0.1, 0.2, 0.4], len(core))
        segment_of_line = random.integers(0, 4, lines)
        best, shares = likeliest_two(pairs, segment_of_line, likelihood, count)
        first, second, rows = _plain_two(pairs, segment_of_line, likelihood, count)
        assert (best.first.tolist(), best.second.tolist()) == (first, second)
        assert shares[["core", "segment", "pair"]].to_numpy().tolist() == [list(row[:3]) for row in rows]
        assert shares["share"].tolist() == pytest.approx([row[3] for row in rows], rel=1e-12)
