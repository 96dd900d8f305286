"""Where the second carriageway of a street lies along it, on streets drawn by hand.

In steps of 0.001 degrees, about 111 m; carriageways 0.2 steps, 22 m, apart.
"""

import numpy as np
import pytest

from pipeline.publish.map.streets import GAP_M
from tests.publish.map.test_streets import EAST, NORTH, placed


def test_the_second_carriageway_lies_beside_the_first_and_not_behind_it():
    """A and B eastwards; C and D, 22 m to the north, drawn westwards:

    <--D---  <--C--
    --A--> ---B--->
    """
    found = placed([(0, 0), (2, 0)], [(2, 0), (6, 0)], [(6, 0.2), (3, 0.2)], [(3, 0.2), (0, 0.2)])
    assert found.along_m == pytest.approx([0, 2 * EAST, 3 * EAST, 0], abs=0.5)
    assert found.is_backwards.tolist() == [False, False, True, True]


def test_a_link_between_carriageways_lies_where_it_meets_them():
    """A below, B above, C from the one to the other 2 steps from the west."""
    found = placed([(0, 0), (2, 0)], [(2, 0), (6, 0)], [(0, 0.2), (2, 0.2)], [(2, 0.2), (6, 0.2)], [(2, 0), (2, 0.2)])
    assert found.along_m[[0, 2]] == pytest.approx([0, 0], abs=0.5)
    # the longest way through the net crosses by the link, which makes it as much longer
    assert np.ptp(found.along_m[[1, 3, 4]]) <= 0.2 * NORTH + 0.5
    assert found.along_m[1] == pytest.approx(2 * EAST, abs=0.2 * NORTH + 0.5)


def test_a_carriageway_that_goes_on_where_the_other_ends_lies_after_it():
    """B, 3 steps, begins beside A, 4 steps; C, 2 steps, goes on from B beyond the end of A."""
    found = placed([(0, 0), (4, 0)], [(1, 0.2), (4, 0.2)], [(4, 0.2), (6, 0.2)])
    assert found.along_m[:2] == pytest.approx([0, EAST], abs=0.5)
    assert found.along_m[2] == pytest.approx(4 * EAST + GAP_M, abs=0.5)


def test_a_side_lane_of_the_same_name_is_not_beside_the_street():
    """C, a quarter of a step, 28 m, branches off northwards and ends blind: within 30 m of the street, but not along it."""
    found = placed([(0, 0), (2, 0)], [(2, 0), (6, 0)], [(2, 0), (2, 0.25)])
    assert found.along_m == pytest.approx([0, 2 * EAST, 6 * EAST + GAP_M], abs=0.5)


def test_a_parallel_street_of_the_same_name_farther_away_follows_with_a_gap():
    """Half a step, 55 m, to the north."""
    found = placed([(0, 0), (4, 0)], [(0, 0.5), (4, 0.5)])
    assert sorted(found.along_m) == pytest.approx([0, 4 * EAST + GAP_M], abs=0.5)
