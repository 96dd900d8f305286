"""Parts of random towns against the whole: what is found in them is the same to the last digit, or is not looked for."""

import pickle

import numpy as np
import pytest
import shapely

from pipeline.plan.streets.part import nodes_around, part_of
from pipeline.plan.streets.paths import BeyondPartError, graph_around, lengths
from pipeline.plan.travel import Roads, Travel
from tests.plan.streets.roads import network, seated

_STREETS = 14
_APART_M = 300.0
_ISLAND_M = 20_000


def _town(random):
    """Return the streets of a town of 4 by 4 km, of which many are missing, with doubled ones and bypasses."""
    at = _APART_M * np.stack(np.meshgrid(np.arange(_STREETS), np.arange(_STREETS), indexing="ij"), axis=-1)
    at = np.round(at + random.uniform(-80, 80, at.shape), 2)
    kept = random.uniform(0.45, 0.9)
    lines = []
    for east in range(_STREETS):
        for north in range(_STREETS):
            for x, y in ((east + 1, north), (east, north + 1)):
                if max(x, y) < _STREETS and random.random() < kept:
                    lines.append([tuple(at[east, north]), tuple(at[x, y])])
                    if random.random() < 0.05:
                        bend = tuple((at[east, north] + at[x, y]) / 2 + random.uniform(-30, 30, 2))
                        lines.append([tuple(at[x, y]), bend, tuple(at[east, north])])
    for _ in range(4):
        # long streets without a crossing: their ends may lie far from a place in their middle
        ends = random.choice(_STREETS**2, 2, replace=False)
        lines.append([tuple(at.reshape(-1, 2)[end]) for end in ends])
    island = _ISLAND_M * (random.random() < 0.5)
    # what lies in the east as a whole is moved away
    return [np.add(line, [island * (min(line[0][0], line[-1][0]) > 2000), 0]) for line in lines]


def _places(random, lines):
    """Return some places in a corner of the town, on streets and off them, some at one spot and a few far away."""
    ends = np.array([line[0] for line in lines])
    corner = random.uniform(0, 3000, 2)
    near = np.argsort(np.hypot(*(ends - corner).T))[: random.integers(5, 60)]
    if random.random() < 0.3:
        # in one of the long streets alone
        near = [len(lines) - 1]
    found = []
    for _ in range(random.integers(2, 30)):
        one = int(random.choice(near)) if random.random() < 0.97 else int(random.integers(len(lines)))
        line = shapely.LineString(lines[one])
        along = random.choice([0.0, 10.0, line.length / 2, random.uniform(0, line.length)])
        is_off = random.random() < 0.15
        far = 1500 if is_off and random.random() < 0.5 else 9
        where = np.array(line.interpolate(along).coords[0]) + random.uniform(-far, far, 2)
        found.append((None if is_off else one, along, random.uniform(0, 9), *where))
    return found


def _same(one, other):
    return all(
        np.array_equal(mine, its, equal_nan=True)
        for mine, its in [
            *zip(one[1:7], other[1:7], strict=True),
            *((getattr(one.matrix, name), getattr(other.matrix, name)) for name in ("data", "indices", "indptr")),
        ]
    )


@pytest.fixture(scope="module", params=range(40))
def town(request):
    """Return a random town's network, where places join it, and where these lie."""
    random = np.random.default_rng(request.param)
    lines = _town(random)
    roads = network(*lines, gap_m=random.choice([1.0, 40.0]))
    return random, roads, *seated(roads, *_places(random, lines))


def _some(random, count):
    """Return all of so many places, and some."""
    yield np.arange(count)
    for _ in range(6):
        yield np.unique(random.integers(0, count, random.integers(1, count + 1)))


def test_a_part_has_the_same_graphs_and_paths_as_the_whole_or_refuses(town):
    random, roads, seats, xy = town
    found = {"same": 0, "refused": 0}
    for wider in (1.0, 4.0, 1024.0):
        part, own = pickle.loads(pickle.dumps(part_of(roads, seats, xy, wider)))
        for places in _some(random, len(xy)):
            whole = graph_around(roads, seats, xy, places)
            try:
                graph = graph_around(part, own, xy, places)
            except BeyondPartError:
                found["refused"] += 1
                continue
            found["same"] += 1
            assert graph.is_whole == whole.is_whole
            assert _same(graph, whole)
            paths = [lengths(*of, xy, places, places) for of in ((roads, seats), (part, own))]
            assert np.array_equal(*paths)
    # the widest part holds everything and refuses nothing
    assert part.within is None
    assert found["same"] >= 7


def test_distances_in_a_part_are_those_in_the_whole(town):
    random, roads, seats, xy = town
    whole = Travel(xy, 1.4, Roads(roads, seats, np.zeros(len(xy), int)))
    asked = np.sort(random.permutation(len(xy))[: max(2, len(xy) // 2)])
    for wider in (4.0, None):
        travel = whole.only(asked, wider)
        one, other = random.integers(0, len(asked), (2, 40))
        try:
            found = [
                travel.among(np.arange(len(asked))).between(one, other),
                travel.between(one, other),
                travel.between(one, other, 300.0),
                travel.metres(one, other),
            ]
        except BeyondPartError:
            continue
        one, other = asked[one], asked[other]
        expected = [
            whole.among(asked).between(one, other), whole.between(one, other), whole.between(one, other, 300.0),
            whole.metres(one, other),
        ]  # fmt: skip
        assert all(np.array_equal(mine, its) for mine, its in zip(found, expected, strict=True))


def test_a_part_is_small_and_has_every_edge_that_leads_to_its_nodes():
    """A street of 40 km with an end every 100 m: around two places 100 m apart, 510 m each way are looked at."""
    roads = network(*([(100 * at, 0), (100 * at + 100, 0)] for at in range(400)))
    seats, xy = seated(roads, (200, 50, 0, 20_050, 0), (201, 50, 0, 20_150, 0))
    part, own = part_of(roads, seats, xy, 1.0)
    # from 19,540 to 20,660 m lie 11 ends, and one more at either side ends an edge
    assert (nodes_around(roads, xy, 1.0), len(part.xy), len(part.tail)) == (11, 13, 12)
    assert lengths(part, own, xy, np.array([0]), np.array([1])).tolist() == [[100.0]]
    assert len(pickle.dumps(part)) < len(pickle.dumps(roads)) / 10


def test_a_path_that_leads_out_of_a_part_is_not_looked_for():
    """Two places 10 m apart, whose path leads 5,000 m away and back: beyond 511 m, and beyond 2,044 m."""
    up, down = [(0, 0), (0, 2500), (0, 5000)], [(10, 5000), (10, 2500), (10, 0)]
    roads = network(up[:2], up[1:], [up[2], down[0]], down[:2], down[1:], [(0, -9000), (0, -8000)])
    seats, xy = seated(roads, (0, 0, 0, 0, 0), (4, 2500, 0, 10, 0))
    for wider, error in ((1.0, BeyondPartError), (4.0, BeyondPartError), (16.0, None)):
        part, own = part_of(roads, seats, xy, wider)
        if error:
            with pytest.raises(error):
                lengths(part, own, xy, np.array([0]), np.array([1]))
        else:
            assert lengths(part, own, xy, np.array([0]), np.array([1])).tolist() == [[10_010.0]]


@pytest.mark.parametrize(
    "lines",
    [
        # a street without a crossing, whose ends lie 2,490 m from the places in its middle
        [[(0, 0), (5000, 0)], [(5000, 0), (5000, 90)], [(-90, 0), (0, 0)]],
        # streets from which no other leads out of the part, with others far away
        [[(2480, 0), (2520, 0)], [(2520, 0), (2530, 9)], [(9000, 0), (9000, 9)]],
    ],
)
def test_a_part_without_crossings_around_the_places_is_like_the_whole(lines):
    roads = network(*lines)
    middle = (lines[0][1][0] - lines[0][0][0]) / 2
    seats, xy = seated(roads, (0, middle - 10, 0, 2490, 0), (0, middle + 10, 0, 2510, 0))
    part, own = part_of(roads, seats, xy, 1.0)
    whole, graph = graph_around(roads, seats, xy, np.arange(2)), graph_around(part, own, xy, np.arange(2))
    assert (graph.is_whole, whole.is_whole) == (False, False)
    assert _same(graph, whole)
    assert lengths(part, own, xy, np.array([0]), np.array([1])).tolist() == [[20.0]]
