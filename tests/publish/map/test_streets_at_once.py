"""Streets without forks laid all at once, against the plain way that lays one street after the other."""

import numpy as np
import pandas as pd
import pytest

from pipeline.publish.map import streets
from pipeline.publish.map.streets import place_along_streets
from pipeline.publish.map.streets_at_once import Ends, Laid, lay_at_once, pieces_of

GAP_M = 20.0


def one_by_one(monkeypatch, *given):
    """The places as the plain way gives them: nothing is laid at once."""
    with monkeypatch.context() as patched:
        patched.setattr(
            streets, "lay_at_once", lambda _ends, _pieces, length_m, *_: Laid(length_m, length_m, length_m < 0)
        )
        return place_along_streets(*given)


def some_streets(seed):
    """Up to thirty lines between the crossings of a small grid, of up to eight names or none; some of them rings."""
    chance = np.random.default_rng(seed)
    count, wide, high = chance.integers(1, 30), chance.integers(1, 9), chance.integers(1, 9)
    ends = chance.integers(0, (wide, high), (count, 2, 2))
    # mostly to a neighbour, so that many of them meet
    ends[:, 1] = np.where(chance.random((count, 1)) < 0.8, ends[:, 0] + chance.integers(-1, 2, (count, 2)), ends[:, 1])
    bends = chance.random((count, 1, 2)) * chance.integers(0, 2, (count, 1, 1)) + ends[:, :1]
    vertices = np.concatenate([ends[:, :1], bends, ends[:, 1:]], axis=1).reshape(-1, 2) / 1000 + chance.integers(
        -50, 60
    )
    names = chance.choice(["A", "B", "C", "D", "E", "F", "G", "H", None], count)
    return vertices.astype(np.float64), np.full(count, 3), pd.Series(names, dtype="str")


@pytest.mark.parametrize("seed", range(5))
def test_streets_laid_at_once_lie_where_they_lie_when_laid_one_by_one(seed, monkeypatch):
    for number in range(60):
        given = some_streets(60 * seed + number)
        fast, plain = place_along_streets(*given), one_by_one(monkeypatch, *given)
        for name in fast._fields:
            np.testing.assert_array_equal(getattr(fast, name), getattr(plain, name), err_msg=f"{number} {name}")


def placed(nodes, spots, length_m, street=None):
    ends = Ends(np.zeros(len(nodes), dtype=np.int64) if street is None else street, np.array(nodes), np.array(spots))
    pieces = pieces_of(ends)
    return lay_at_once(ends, pieces, np.array(length_m), np.zeros(len(pieces.of_street), dtype=bool), GAP_M)


def test_a_plain_street_and_its_pieces_are_laid_at_once():
    """Eastwards: node 0, line 1, node 1, line 0 drawn westwards, node 2; apart from them node 3, line 2, node 4."""
    spots = [(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (5.0, 0.1), (6.0, 0.1)]
    found = placed([(2, 1), (0, 1), (3, 4)], spots, [7.0, 3.0, 4.0])
    assert found.along_m.tolist() == [3.0, 0.0, 10.0 + GAP_M]
    assert found.is_backwards.tolist() == [True, False, False]
    assert found.is_laid.all()


def test_a_street_with_a_fork_is_left_and_another_of_the_same_nodes_is_not():
    spots = [(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (1.0, 0.5)]
    found = placed([(0, 1), (1, 2), (1, 3), (0, 1)], spots, [1.0, 1.0, 1.0, 1.0], np.array([0, 0, 0, 1]))
    assert found.is_laid.tolist() == [False, False, False, True]


def test_a_street_as_long_northwards_as_eastwards_and_one_without_length_are_left():
    """The last digit of a cosine decides which way the first one runs; of the second, no gap follows what is a point."""
    assert placed([(0, 1)], [(-0.5, -0.5), (0.5, 0.5)], [1.0]).is_laid.tolist() == [False]
    assert placed([(0, 0), (0, 1)], [(0.0, 0.0), (1.0, 0.0)], [0.0, 1.0]).is_laid.tolist() == [False, False]
