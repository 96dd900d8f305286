"""Sheets of crews changed at random are taken back, or refused in words; what is taken is read as it was meant."""

import numpy as np
import pytest

from tests.fuzz.returned_sheets import try_sheet


@pytest.mark.parametrize("seed", range(12))
def test_a_sheet_changed_at_random_is_taken_back_or_refused_in_words(run_folder, tmp_path, seed):
    wrong, _ = try_sheet(run_folder, tmp_path / "back", np.random.default_rng(seed))
    assert not wrong
