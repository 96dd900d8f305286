import numpy as np
import pandas as pd
import pytest

from pipeline.plan.legs import Travelled, Ways, travelled
from pipeline.plan.schedule import Route
from pipeline.plan.travel import travel_of
from pipeline.plan.visits import Groups
from tests.plan.streets.roads import layer

# a road of 1,000 m with a gap of 0.5 m, a road that ends at its middle, and one that nothing leads to
_ROADS = layer([(0, 0), (400, 0)], [(400.5, 0), (1000, 0)], [(200, 0), (200, 300)], [(0, 900), (100, 900)])


def _travel():
    """Cores 0 to 2 on the first three roads, 3 on the road by itself, 4 without a segment; the start at (0, 0)."""
    cores = pd.DataFrame(
        [
            (0, 100.0, 0.0, 100, 0),
            (1, 99.5, 0.0, 500, 0),
            (2, 200.0, 0.0, 200, 200),
            (3, 50.0, 0.0, 50, 900),
            (-1, np.nan, np.nan, 1000, 10),
        ],
        columns=["segment", "chainage_m", "offset_m", "x_m", "y_m"],
    )
    return travel_of(_ROADS, cores, np.array([[0.0, 0.0]]), 1.0, 1.4)


def _groups(travel, *visits):
    """Return visits that are lists of jobs."""
    walks = [travel.between(np.array([jobs[0], *jobs[:-1]]), np.array(jobs)) for jobs in visits]
    first = np.cumsum([0, *(len(jobs) for jobs in visits)])
    job = np.array([job for jobs in visits for job in jobs], dtype=np.int64)
    zero = np.zeros(len(job))
    return Groups(first, job, zero, zero, zero, zero, np.concatenate([zero[:0], *walks]), zero[first[:-1]], zero)


def _day(travel, *visits):
    """Return the route of one day that starts at place 5, and its groups; each visit is a list of jobs."""
    leave, reach = [5, *(jobs[-1] for jobs in visits)], [*(jobs[0] for jobs in visits), 5]
    hops = np.diagonal(travel.metres(np.array(leave), np.array(reach)))
    return [Route(0, 0, list(range(len(visits))), hops)], _groups(travel, *visits)


def _travelled(*visits):
    travel = _travel()
    return travelled(travel, *_day(travel, *visits), np.array([5]), 1.0)


def test_the_legs_of_a_day_are_the_hops_between_visits_and_the_walks_within_them():
    """From the start 100 m to core 0, on foot 400 m to core 1, 500 m home."""
    found = _travelled([0, 1])
    assert (found.legs, found.metres) == (3, pytest.approx(1000))


def test_the_detour_is_measured_on_legs_with_a_road():
    """To core 0 100 m, to core 2 100 + 200 m for a straight line of the root of 100^2 + 200^2, home 400 for 283 m."""
    found = _travelled([0], [2])
    assert found.ratio == pytest.approx(300 / np.hypot(100, 200))


def test_legs_without_a_road_are_counted_and_not_measured():
    """To core 3 and home again: two straight lines. To core 0 and home: along the road."""
    assert _travelled([0], [3])[2:5] == (2, 1.4, pytest.approx(1.0))


def test_the_detour_is_not_measured_on_legs_below_100_m():
    """Two cores 20 m off the road, 40 and 60 m along it from the start: the offsets would double their distances."""
    cores = pd.DataFrame({"x_m": [40.0, 60], "y_m": 20.0, "segment": 0, "chainage_m": [40.0, 60], "offset_m": 20.0})
    travel = travel_of(_ROADS, cores, np.array([[0.0, 0.0]]), 1.0, 1.4)
    hops = np.array([60.0, 60, 80])
    found = travelled(travel, [Route(0, 0, [0, 1], hops)], _groups(travel, [0], [1]), np.array([2]), 1.0)
    assert found.legs == 3
    assert np.isnan(found.ratio)


def test_without_a_leg_nothing_is_measured():
    found = travelled(_travel(), [], _groups(_travel()), np.array([5]), 1.0)
    assert (found.legs, found.metres) == (0, 0)
    assert np.isnan(found.ratio)


def test_what_the_road_layer_lacked_is_counted():
    """The gap at 400 m; the end at (200, 0); the road by itself; core 4."""
    found = _travelled([0])
    assert (found.gaps, found.splits, found.parts, found.parts_with_work, found.off_network) == (1, 1, 2, 2, 1)


_NOTHING = Travelled(10, 900.0, 0, 1.4, 1.3, 0, 1.0, 4, 1, 1, 0)


def test_roads_that_lack_nothing_give_no_notice():
    assert _NOTHING.notices() == []


@pytest.mark.parametrize(
    ("lacks", "sentence"),
    [
        ({"gaps": 1}, "1 gap of up to 1 m between road segments was closed (plan.gap)."),
        ({"gaps": 1412}, "1,412 gaps of up to 1 m between road segments were closed (plan.gap)."),
        (
            {"straight_legs": 1, "parts": 5, "parts_with_work": 2},
            (
                "The planned cores and the crews' starts lie in 2 unconnected parts of the road network: 1 of 10 "
                "distances is a straight line times 1.4 (plan.detour). Draw the missing road segments, or increase "
                "plan.gap."
            ),
        ),
        (
            {"off_network": 1},
            (
                "1 core of the plan has no road segment: its distance from the nearest end of a segment is a straight "
                "line times 1.4 (plan.detour)."
            ),
        ),
        (
            {"off_network": 2},
            (
                "2 cores of the plan have no road segment: their distance from the nearest end of a segment is a "
                "straight line times 1.4 (plan.detour)."
            ),
        ),
    ],
)
def test_what_the_roads_lack_is_reported(lacks, sentence):
    assert _NOTHING._replace(**lacks).notices() == [sentence]


def test_the_lines_of_a_day_lead_from_the_start_through_the_stops_and_back():
    """The first passes the other core, 100 m along the road."""
    ways = Ways(_travel(), pd.Index([70, 71, 72, 73, 74]), {"North crew": 5})
    first, second, home = ways.of_day("North crew", pd.Index([72, 70]))
    assert first.tolist() == [[0, 0], [100, 0], [200, 0], [200, 200]]
    assert second.tolist() == [[200, 200], [200, 0], [100, 0]]
    assert home.tolist() == [[100, 0], [0, 0]]
