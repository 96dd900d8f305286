import numpy as np
import pandas as pd
import pytest

from pipeline.plan.travel import Travel, travel_of
from tests.plan.streets.roads import layer

# a corner: 10 m east, 8 m north; and a road of its own far away
_ROADS = layer([(0, 0), (10, 0)], [(10, 0), (10, 8)], [(500, 0), (600, 0)])


def _travel(*cores, roads=_ROADS, starts=(), detour=1.4):
    """Return the travel between cores, each (segment, chainage, offset, x, y), and starts, each (x, y)."""
    frame = pd.DataFrame(cores, columns=["segment", "chainage_m", "offset_m", "x_m", "y_m"])
    return travel_of(roads, frame, np.array(starts, float).reshape(-1, 2), 1.0, detour)


_CORES = [(0, 7.0, 1.0, 7, 1), (1, 4.0, 2.0, 12, 4), (2, 0.0, 0.0, 500, 0)]


def test_a_distance_runs_along_the_road_with_the_offsets_of_both_ends():
    """From 3 m before the corner, 1 m off, to 4 m after it, 2 m off."""
    assert _travel(*_CORES).metres(np.array([0]), np.array([1])).tolist() == pytest.approx(np.array([[10]]))


def test_a_place_is_no_distance_from_itself():
    assert np.diagonal(_travel(*_CORES).metres(np.arange(3), np.arange(3))).tolist() == [0, 0, 0]


def test_where_no_road_leads_the_distance_is_the_straight_line_times_the_detour():
    """The offsets add nothing to it: from (12, 4) to (500, 0)."""
    travel = _travel(*_CORES, detour=1.5)
    assert travel.metres(np.array([1]), np.array([2]))[0, 0] == pytest.approx(1.5 * np.hypot(488, 4))
    assert travel.has_road(np.array([0, 1]), np.array([1, 2])).tolist() == [True, False]


def test_a_start_joins_at_the_nearest_end_of_a_segment():
    """From (13, 12), 5 m from the end at (10, 8), 4 m to the core's chainage and 2 m to the core."""
    travel = _travel(*_CORES, starts=[(13, 12)])
    assert travel.metres(np.array([3]), np.array([1]))[0, 0] == pytest.approx(5 * 1.4 + 4 + 2)


def test_a_core_without_a_segment_joins_at_the_nearest_end_of_a_segment():
    travel = _travel((-1, np.nan, np.nan, 13, 12), _CORES[1])
    assert travel.metres(np.array([0]), np.array([1]))[0, 0] == pytest.approx(5 * 1.4 + 4 + 2)


def test_the_chainage_of_a_later_line_of_a_segment_is_counted_from_its_own_start():
    """The second line continues the segment at 10 m: chainage 14 is 4 m along it."""
    roads = _ROADS.assign(start_m=[0.0, 10.0, 0.0])
    travel = _travel(_CORES[0], (1, 14.0, 2.0, 12, 4), roads=roads)
    assert travel.metres(np.array([0]), np.array([1]))[0, 0] == pytest.approx(10)


def test_a_table_at_hand_holds_the_same_distances():
    travel = _travel(*_CORES, starts=[(13, 12)])
    near = travel.among(np.array([3, 0, 1]))
    assert near.near.has(np.array([0, 1, 3]))
    one, other = np.array([0, 3, 1]), np.array([1, 0])
    assert near.metres(one, other).tolist() == travel.metres(one, other).tolist()


def test_a_place_outside_the_table_is_found_all_the_same():
    travel = _travel(*_CORES)
    near = travel.among(np.array([0, 1]))
    assert (
        near.metres(np.array([0, 2]), np.array([1])).tolist() == travel.metres(np.array([0, 2]), np.array([1])).tolist()
    )


def test_many_places_on_few_streets_are_as_far_apart_as_a_few_of_them():
    cores = [(0, at, 1.0, at, 1) for at in np.linspace(0, 10, 2001)]
    travel, some = _travel(*cores), np.array([0, 7, 2000])
    near = travel.among(np.arange(2001))
    assert not near.near.keeps
    assert near.metres(some, some).tolist() == travel.metres(some, some).tolist()
    # 3.5 mm, 10 m and 9.965 m along the road, and 1 m from it at both ends
    assert near.between(some, np.roll(some, 1)).tolist() == pytest.approx([12, 2.035, 11.965])


def test_nobody_to_visit_gives_no_distances():
    assert _travel(*_CORES).metres(np.array([], int), np.array([0, 1])).shape == (0, 2)
    assert _travel(*_CORES).among(np.array([], int)).metres(np.array([], int), np.array([], int)).shape == (0, 0)


def test_without_roads_every_distance_is_a_straight_line_times_the_detour():
    """3 m and 4 m: 5 m, times 1.4."""
    for travel in (
        Travel(np.array([[0.0, 0], [3, 4]]), 1.4),
        _travel((-1, np.nan, np.nan, 0, 0), (-1, np.nan, np.nan, 3, 4), roads=_ROADS[:0]),
    ):
        assert travel.metres(np.array([0]), np.array([1])).tolist() == pytest.approx(np.array([[7]]))
        assert [way.tolist() for way in travel.ways(np.array([0, 1]))] == [[[0, 0], [3, 4]]]
        assert not travel.has_road(np.array([0]), np.array([1])).any()


def test_the_lines_between_places_are_as_long_as_the_distances():
    travel = _travel(*_CORES[:2])
    (way,) = travel.ways(np.array([0, 1]))
    assert np.hypot(*np.diff(way, axis=0).T).sum() == pytest.approx(travel.metres(np.array([0]), np.array([1]))[0, 0])


def test_distances_between_pairs_are_those_of_the_table_of_all():
    """With the distances at hand, along the roads, and without any road."""
    one, other = np.array([0, 1, 2, 3, 0]), np.array([1, 0, 0, 2, 0])
    travel = _travel(*_CORES, starts=[(13, 12)])
    every = travel.metres(np.arange(4), np.arange(4))
    at_hand, straight = travel.among(np.arange(4)), _travel(*_CORES, roads=_ROADS.iloc[:0], starts=[(13, 12)])
    assert at_hand.between(one, other).tolist() == every[one, other].tolist()
    assert travel.between(one, other).tolist() == pytest.approx(every[one, other].tolist())
    assert straight.between(one, other).tolist() == straight.metres(one, other).diagonal().tolist()
