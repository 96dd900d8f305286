"""Products of tables with shares, small and large, beside sums in double precision."""

import numpy as np
import pytest

from pipeline.locate.learning.products import by_column, by_row, columns_of

# the last three are large enough for the library to use threads
SIZES = [(0, 72), (1, 72), (500, 72), (6400, 72), (9001, 72), (30_000, 72)]


@pytest.mark.parametrize("size", SIZES)
def test_each_row_is_multiplied_by_the_shares(size):
    random = np.random.default_rng(1)
    table, shares = random.random(size, dtype=np.float32), random.random(size[1], dtype=np.float32)
    expected = (table.astype(float) * shares.astype(float)).sum(axis=1)
    assert by_row(table, shares) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("size", SIZES)
def test_each_column_is_summed_by_the_weights(size):
    random = np.random.default_rng(2)
    table, weights = random.random(size, dtype=np.float32), random.random(size[0], dtype=np.float32)
    expected = (table.astype(float) * weights.astype(float)[:, None]).sum(axis=0)
    assert by_column(weights, columns_of(table)) == pytest.approx(expected, rel=1e-4)


def test_a_large_product_is_that_of_its_two_halves():
    table, shares = np.random.default_rng(3).random((9001, 72), dtype=np.float32), np.ones(72, dtype=np.float32)
    halves = [by_row(np.ascontiguousarray(part), shares) for part in (table[:4501], table[4501:])]
    assert by_row(table, shares).tolist() == np.concatenate(halves).tolist()
