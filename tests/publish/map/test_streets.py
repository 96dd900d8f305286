"""Where each segment lies along its street, on streets drawn by hand.

Near 0 degrees north, 0.001 degrees of longitude are 111.32 m and 0.001 degrees of latitude 110.57 m (WGS 84: the
equator's radius of 6,378,137 m times the angle, and the meridian's curvature at the equator, 6,335,439 m, times it).
"""

import numpy as np
import pandas as pd
import pytest

from pipeline.publish.map import street_ways
from pipeline.publish.map.streets import GAP_M, place_along_streets

# metres per step of the drawings, 0.001 degrees
EAST = 6_378_137 * np.radians(0.001)
NORTH = 6_335_439 * np.radians(0.001)


def placed(*lines, names=None):
    """Lines by their vertices in steps of 0.001 degrees; along_m and is_backwards of each, along_m to the metre."""
    vertices = np.array([spot for line in lines for spot in line], dtype=np.float64) / 1000
    counts = np.array([len(line) for line in lines])
    street = pd.Series(["Dory Lane"] * len(lines) if names is None else list(names), dtype="str")
    return place_along_streets(vertices, counts, street)


def metres(found):
    return found.along_m.round(1).tolist()


def test_segments_follow_one_another_from_west_to_east_whatever_their_order():
    """C to the west of A, A to the west of B; 1, 2 and 3 steps long:   -C- --A-- ---B---"""
    found = placed([(1, 0), (3, 0)], [(3, 0), (6, 0)], [(0, 0), (1, 0)])
    assert found.length_m == pytest.approx([2 * EAST, 3 * EAST, EAST], abs=0.01)
    assert found.along_m == pytest.approx([EAST, 3 * EAST, 0], abs=0.01)
    assert found.is_backwards.tolist() == [False, False, False]


def test_a_street_that_is_longer_northwards_runs_from_south_to_north():
    found = placed([(0, 5), (1, 2)], [(1, 2), (0, 0)])
    assert found.along_m[1] == 0
    assert found.is_backwards.tolist() == [True, True]


def test_east_and_north_are_compared_in_metres_not_in_degrees():
    """At 60 degrees north, 3 steps east are as long as 1.5 steps north: a street 2 steps north runs northwards."""
    found = placed([(3, 60_000), (0, 60_002)])
    assert found.is_backwards.tolist() == [False]


def test_a_segment_drawn_the_other_way_round_is_backwards():
    """-->  <--  -->"""
    found = placed([(0, 0), (1, 0)], [(2, 0), (1, 0)], [(2, 0), (3, 0)])
    assert found.is_backwards.tolist() == [False, True, False]
    assert found.along_m == pytest.approx([0, EAST, 2 * EAST], abs=0.01)


def test_of_a_fork_the_longest_way_comes_first_and_then_the_branch():
    """A then B, with C, 1 step to the north, branching off where they meet.

         C
    --A--+----B----
    """
    found = placed([(0, 0), (2, 0)], [(2, 0), (6, 0)], [(2, 0), (2, 1)])
    assert found.along_m == pytest.approx([0, 2 * EAST, 6 * EAST + GAP_M], abs=0.01)


def test_a_branch_that_is_longer_is_the_main_way():
    """Of A (1 step), B (2 steps) and C (4 steps), which meet in one point, B and C are the longest way."""
    found = placed([(3, 0), (4, 0)], [(3, 0), (1, 0)], [(3, 0), (7, -1)])
    assert found.along_m[[1, 2]] == pytest.approx([0, 2 * EAST], abs=0.01)
    assert found.is_backwards.tolist() == [False, True, False]
    assert found.along_m[0] == pytest.approx(found.along_m[2] + found.length_m[2] + GAP_M, abs=0.01)


def test_a_closed_loop_is_walked_round_once_without_a_gap():
    """A square of 1 step, drawn all round: every side once, from the westernmost corner that is first in the layer."""
    found = placed([(0, 0), (1, 0)], [(1, 0), (1, 1)], [(1, 1), (0, 1)], [(0, 1), (0, 0)])
    order = np.argsort(found.along_m)
    ends = found.along_m[order] + found.length_m[order]
    assert found.along_m[order][0] == 0
    assert found.along_m[order][1:] == pytest.approx(ends[:-1], abs=1e-6)
    assert ends[-1] == pytest.approx(2 * EAST + 2 * NORTH, abs=0.01)


def test_a_loop_with_a_tail_loses_no_part_of_it():
    """The tail A and one side of the loop are the longest way, the other side follows after a gap.

           +-C-+
    ---A---+   +
           +-B-+
    """
    found = placed([(0, 0), (3, 0)], [(3, 0), (4, -1), (5, 0)], [(3, 0), (4, 1), (5, 0)])
    first, second = sorted(found.along_m[1:])
    assert first == pytest.approx(3 * EAST, abs=0.01)
    assert second == pytest.approx(3 * EAST + found.length_m[1] + GAP_M, abs=0.01)


def test_a_segment_that_ends_where_it_begins_is_a_loop_of_its_own():
    found = placed([(0, 0), (1, 0)], [(1, 0), (2, 0), (2, 1), (1, 0)], [(0, 0), (-4, 0)])
    assert sorted(found.along_m.round(3)) == pytest.approx([0, 4 * EAST, 5 * EAST + GAP_M], abs=0.01)


def test_pieces_that_do_not_meet_follow_one_another_with_a_gap():
    """Ten steps apart, but 20 m on the strip:  --A--      --B--"""
    found = placed([(12, 0), (14, 0)], [(0, 0), (2, 0)])
    assert found.along_m == pytest.approx([2 * EAST + GAP_M, 0], abs=0.01)


def test_ends_that_differ_by_less_than_a_hand_meet():
    """0.00000002 degrees are 2 mm."""
    found = placed([(0, 0), (1, 0)], [(1.00002, 0), (2, 0)])
    assert found.along_m[1] == pytest.approx(EAST, abs=0.01)


def test_streets_start_anew_and_a_segment_without_a_street_is_alone():
    found = placed(
        [(0, 0), (1, 0)], [(1, 0), (2, 0)], [(2, 0), (3, 0)], [(4, 0), (3, 0)], names=["Dory Lane", "Quay", None, None]
    )
    assert metres(found) == [0, 0, 0, 0]
    # a segment alone runs as its chainage does
    assert found.is_backwards[2:].tolist() == [False, False]


def test_every_line_of_a_net_is_laid_once_and_none_over_another():
    """Three by three streets of one name, nine crossings: twelve lines, as many metres as their lengths and the gaps."""
    across = [[(x, y), (x + 1, y)] for x in range(2) for y in range(3)]
    up = [[(x, y), (x, y + 1)] for x in range(3) for y in range(2)]
    found = placed(*across, *up)
    order = np.argsort(found.along_m)
    free = found.along_m[order][1:] - (found.along_m + found.length_m)[order][:-1]
    assert all(np.isclose(step, 0, atol=1e-6) or np.isclose(step, GAP_M) for step in free)


def test_a_large_net_of_one_name_is_laid_line_after_line(monkeypatch):
    """Four lines from one point, where three are the most that are searched:  as they begin, from west to east."""
    monkeypatch.setattr(street_ways, "MOST_SEARCHED", 3)
    found = placed([(4, 0), (9, 0)], [(4, 0), (0, 0)], [(4, 0), (3, 1)], [(4, 0), (2, -1)])
    assert np.argsort(found.along_m).tolist() == [1, 3, 2, 0]
    assert (found.along_m + found.length_m).max() == pytest.approx(found.length_m.sum())


def test_places_south_and_west_of_zero_are_laid_out_alike():
    found = placed([(-2, -1), (-1, -1)], [(-3, -1), (-2, -1)])
    assert found.along_m == pytest.approx([EAST, 0], abs=0.01)


def test_no_lines_have_no_places():
    found = place_along_streets(np.zeros((0, 2)), np.zeros(0, dtype=np.int64), pd.Series([], dtype="str"))
    assert len(found.along_m) == len(found.length_m) == len(found.is_backwards) == 0
