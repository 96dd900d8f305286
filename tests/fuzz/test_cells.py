"""Made-up cells: every reader reads them or says why not, in bounded time, and no cell changes its neighbours."""

import numpy as np
import pytest

from tests.fuzz.cells import check_alone, check_cells, made_up_cells, seconds_for_long_cell


@pytest.mark.parametrize("seed", range(6))
def test_made_up_cells_are_read_or_refused_with_a_reason(seed):
    rng = np.random.default_rng(seed)
    check_cells(made_up_cells(rng, 1500), int(rng.integers(1000)))


def test_a_cell_is_read_the_same_beside_any_others():
    rng = np.random.default_rng(11)
    check_alone(made_up_cells(rng, 25), 1)


@pytest.mark.parametrize("part", ["9", " ", "1 ", "1,", "1/", "'", "°", "ft ", "1'", "1-", "POINT ("])
def test_a_long_cell_takes_time_in_proportion_to_its_length(part):
    seconds_for_long_cell(part, 100)
    assert seconds_for_long_cell(part, 5_000) < 3
