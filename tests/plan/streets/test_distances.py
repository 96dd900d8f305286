import numpy as np
import pytest

from pipeline.plan.streets import distances
from pipeline.plan.streets.distances import Distances
from pipeline.plan.streets.paths import lengths, searched
from tests.plan.streets.roads import network, seated

_SIDE = 9


def _town(count=60, seed=5):
    """Return streets 100 m apart, a river along 450 m with one bridge at its far end, and places on the streets."""
    lines = [[(100 * x, 0), (100 * x, 400)] for x in range(_SIDE)] + [
        [(100 * x, 500), (100 * x, 900)] for x in range(_SIDE)
    ]
    rows = [[(100 * x, y) for x in range(_SIDE)] for y in (0, 400, 500, 900)]
    roads = network(*lines, *rows, [(800, 400), (800, 500)])
    rng = np.random.default_rng(seed)
    line, along = rng.integers(0, 2 * _SIDE, count), rng.uniform(0, 400, count)
    y = np.where(line < _SIDE, along, along + 500)
    seats, xy = seated(roads, *zip(line, along, np.zeros(count), 100 * (line % _SIDE), y, strict=True))
    return roads, seats, xy


def _every(town):
    """Return all paths by one search from each place, without an end to it."""
    places = np.arange(len(town[2]))
    return lengths(*town, places, places)


def test_a_table_is_that_of_one_search_from_every_place():
    town = _town()
    found, every = Distances(*town, np.arange(60)), _every(town)
    for seed in range(5):
        rng = np.random.default_rng(seed)
        one, other = rng.integers(0, 60, 7), rng.integers(0, 60, 9)
        assert found.table(one, other).tolist() == every[np.ix_(one, other)].tolist()


@pytest.mark.parametrize("kept", [5, 60 * 4, 60 * 12])
def test_a_table_that_does_not_fit_is_found_all_the_same(monkeypatch, kept):
    monkeypatch.setattr(distances, "_KEPT", kept)
    town = _town()
    found, every = Distances(*town, np.arange(60)), _every(town)
    for begin in (0, 5, 7, 14, 3):
        some = np.arange(begin, begin + 7)
        assert found.table(some, some).tolist() == every[np.ix_(some, some)].tolist()


def test_pairs_are_as_far_apart_as_in_the_table_also_across_the_river(monkeypatch):
    """Places on both banks are 150 m apart and more than 1,000 m by the bridge."""
    monkeypatch.setattr(distances, "_MORE_M", 5.0)
    town = _town()
    every, (one, other) = _every(town), np.triu_indices(60, 1)
    apart = np.hypot(*(town[2][one] - town[2][other]).T)
    assert Distances(*town, np.arange(60)).between(one, other, apart).tolist() == every[one, other].tolist()
    assert (every[one, other] > 6 * apart + 20).any()


def test_pairs_whose_rows_are_kept_are_the_same():
    town = _town()
    every, (one, other), found = _every(town), np.triu_indices(60, 1), Distances(*town, np.arange(60))
    found.table(np.arange(0, 60, 2), np.array([1]))
    apart = np.hypot(*(town[2][one] - town[2][other]).T)
    assert found.between(one, other, apart).tolist() == every[one, other].tolist()


def test_pairs_farther_apart_than_asked_for_are_infinitely_far():
    town = _town()
    every, (one, other) = _every(town), np.triu_indices(60, 1)
    apart = np.hypot(*(town[2][one] - town[2][other]).T)
    found = Distances(*town, np.arange(60)).between(one, other, apart, 700.0)
    near = every[one, other] <= 700.0
    assert found[near].tolist() == every[one, other][near].tolist()
    assert np.isin(found[~near], [*every[one, other], np.inf]).all()
    assert np.isinf(found).any()


def test_many_places_on_few_streets_are_searched_as_they_are_asked_for(monkeypatch):
    town = _town()
    assert Distances(*town, np.arange(60)).keeps
    monkeypatch.setattr(distances, "_FEW", 59)
    assert not Distances(*town, np.arange(60)).keeps


def test_only_some_of_the_places_are_at_hand():
    found = Distances(*_town(), np.array([4, 9, 2]))
    assert found.has(np.array([2, 9, 9]))
    assert not found.has(np.array([2, 3]))
    assert not found.has(np.array([12]))


def test_places_that_join_at_one_node_are_searched_from_once(monkeypatch):
    """Three places without a street, beside the end of the first, and one on it."""
    roads = network([(0, 0), (0, 400)], [(0, 400), (300, 400)])
    lost = [(None, 0, 0, x, -50) for x in (-1, 0, 1)]
    town = (roads, *seated(roads, *lost, (0, 100, 0, 0, 100), (1, 200, 0, 200, 400)))
    every, sources = _every(town), []
    monkeypatch.setattr(
        distances, "searched", lambda matrix, nodes, limit_m: sources.extend(nodes) or searched(matrix, nodes, limit_m)
    )
    found = Distances(*town, np.arange(5)).table(np.arange(5), np.arange(5))
    assert found.tolist() == every.tolist()
    assert len(sources) == 3
