"""Cores cut into cells."""

import numpy as np
import pytest

from pipeline.engines import cells_of


@pytest.mark.parametrize("most", [1, 3, 50, 999, 1000, 5000])
def test_every_core_is_in_one_cell_and_no_cell_has_too_many(most):
    rng = np.random.default_rng(3)
    # a third of the cores lie at one position
    x, y = (np.concatenate([rng.uniform(0, 5000, 700), np.full(300, 17.0)]) for _ in range(2))
    cells = cells_of(x, y, most)
    assert np.sort(np.concatenate(cells)).tolist() == list(range(1000))
    assert max(len(cell) for cell in cells) <= most
    assert all((np.diff(cell) > 0).all() for cell in cells)


def test_cells_have_equal_work():
    rng = np.random.default_rng(4)
    x, y = rng.normal(0, 1000, 8000), rng.normal(0, 1, 8000)
    assert [len(cell) for cell in cells_of(x, y, 1000)] == [1000] * 8


def test_cells_lie_apart():
    # a row of nine from west to east is cut into runs of neighbours
    cells = cells_of(np.array([8.0, 1, 2, 3, 4, 5, 6, 7, 0]), np.zeros(9), 3)
    assert [cell.tolist() for cell in cells] == [[1, 8], [2, 3], [4, 5], [0, 6, 7]]


def test_no_cores_are_one_empty_cell():
    assert [cell.tolist() for cell in cells_of(np.empty(0), np.empty(0), 10)] == [[]]
