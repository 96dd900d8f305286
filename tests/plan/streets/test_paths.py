from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.plan.streets.paths import graph_around, lengths, parts_of
from tests.plan.streets.roads import network, seated


def _between(roads, *places):
    seats, xy = seated(roads, *places)
    every = np.arange(len(places))
    return lengths(roads, seats, xy, every, every)


def test_the_path_runs_round_the_corner():
    """3 m to the corner at (10, 0), and 4 m up."""
    roads = network([(0, 0), (10, 0)], [(10, 0), (10, 8)])
    assert _between(roads, (0, 7, 0, 7, 0), (1, 4, 0, 10, 4))[0, 1] == pytest.approx(7)


def test_places_on_one_line_are_as_far_apart_as_along_it():
    roads = network([(0, 0), (10, 0), (10, 10)])
    found = _between(roads, (0, 18, 0, 10, 8), (0, 2, 0, 2, 0), (0, 10, 0, 10, 0))
    assert found.tolist() == pytest.approx(np.array([[0, 16, 8], [16, 0, 8], [8, 8, 0]]))


def test_places_at_one_point_are_not_apart():
    roads = network([(0, 0), (10, 0)])
    assert _between(roads, (0, 0, 0, 0, 0), (0, 0, 0, 0, 0), (None, 0, 0, 0, 0)).tolist() == np.zeros((3, 3)).tolist()


def test_of_two_ways_the_shorter_counts():
    """A square block of 10 m: from the middle of one side to the middle of the opposite one, 20 m either way; from a
    quarter, 5 + 10 + 2.5 m on the near side.
    """
    roads = network([(0, 0), (10, 0)], [(0, 0), (0, 10), (10, 10), (10, 0)])
    assert _between(roads, (0, 5, 0, 5, 0), (1, 15, 0, 5, 10))[0, 1] == pytest.approx(20)
    assert _between(roads, (0, 5, 0, 5, 0), (1, 12.5, 0, 2.5, 10))[0, 1] == pytest.approx(17.5)


def test_one_place_on_a_ring_goes_the_shorter_way_round():
    """A ring of 40 m with a road of 5 m from its start; a place 35 m along it is 5 m from the start."""
    roads = network([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)], [(0, 0), (-5, 0)])
    assert _between(roads, (0, 35, 0, 0, 5), (1, 5, 0, -5, 0))[0, 1] == pytest.approx(10)


def test_parts_that_are_not_connected_are_infinitely_far_apart():
    roads = network([(0, 0), (10, 0)], [(0, 50), (10, 50)])
    seats, xy = seated(roads, (0, 0, 0, 0, 0), (1, 0, 0, 0, 50))
    assert lengths(roads, seats, xy, np.array([0]), np.array([1])).tolist() == [[np.inf]]
    assert len(set(parts_of(roads, seats, np.arange(2)))) == 2


def test_a_path_that_leads_far_away_is_found():
    """Two ends 10 m apart, joined by a road of 2 x 5,000 + 10 m."""
    up, down = [(0, 0), (0, 2500), (0, 5000)], [(10, 5000), (10, 2500), (10, 0)]
    roads = network(up[:2], up[1:], [up[2], down[0]], down[:2], down[1:], [(0, -9000), (0, -8000)])
    assert _between(roads, (0, 0, 0, 0, 0), (4, 2500, 0, 10, 0))[0, 1] == pytest.approx(10_010)


def test_the_far_ends_of_a_long_road_are_its_own():
    """One road runs 5,000 m north, another from there back to beside the middle of the first: 3,000 m and its length."""
    back = np.hypot(5, 3000)
    roads = network([(0, 0), (0, 5000)], [(0, 5000), (5, 2000)])
    assert _between(roads, (0, 2000, 0, 0, 2000), (1, back, 0, 5, 2000))[0, 1] == pytest.approx(3000 + back)


def test_the_network_far_from_the_places_is_left_out():
    roads = network([(0, 0), (10, 0)], [(10, 0), (5000, 0)], [(5000, 0), (9000, 0)])
    seats, xy = seated(roads, (0, 2, 0, 2, 0), (0, 8, 0, 8, 0))
    graph = graph_around(roads, seats, xy, np.array([0, 1]))
    assert not graph.is_whole
    # the ends of the two lines near by, and the two places
    assert graph.matrix.shape == (5, 5)


def test_more_origins_than_destinations_make_no_difference():
    roads = network([(0, 0), (10, 0)], [(10, 0), (10, 8)])
    seats, xy = seated(roads, (0, 7, 0, 7, 0), (1, 4, 0, 10, 4), (0, 0, 0, 0, 0))
    found = lengths(roads, seats, xy, np.array([0, 2, 0]), np.array([1]))
    assert found.tolist() == pytest.approx(np.array([[7], [14], [7]]))


_LATTICE = st.lists(
    st.tuples(st.integers(0, 3), st.integers(0, 3), st.lists(st.integers(0, 3), min_size=1, max_size=4)),
    min_size=1,
    max_size=6,
)


def _walked(x, y, turns):
    """Return the points of a walk on a lattice of 10 m that does not turn back at once."""
    points = [(x, y)]
    for turn in turns:
        east, north = ((1, 0), (0, 1), (-1, 0), (0, -1))[turn]
        step = (points[-1][0] + east, points[-1][1] + north)
        if len(points) < 2 or step != points[-2]:
            points.append(step)
    return [(10 * east, 10 * north) for east, north in points]


@given(_LATTICE)
def test_paths_are_as_short_as_those_over_every_vertex(walks):
    """The second method: Floyd and Warshall's over every point of the lattice."""
    lines = [_walked(*walk) for walk in walks]
    points = sorted({point for line in lines for point in line})
    apart = np.where(np.eye(len(points)), 0, np.inf)
    for line in lines:
        for one, other in pairwise(points.index(point) for point in line):
            apart[one, other] = apart[other, one] = 10
    for between in range(len(points)):
        apart = np.minimum(apart, apart[:, [between]] + apart[[between]])
    at = [next((n, 10 * line.index(point)) for n, line in enumerate(lines) if point in line) for point in points]
    found = _between(network(*lines), *((line, along, 0, *point) for (line, along), point in zip(at, points)))
    assert found == pytest.approx(apart)
