"""Cells that are among others."""

import numpy as np
import pandas as pd
import pytest

from pipeline.publish.among import is_among


@pytest.mark.parametrize("kind", ["str", "category", "object"])
def test_a_text_is_among_others_and_a_missing_one_is_among_none(kind):
    column = pd.Series(["a", None, "b", "a"], dtype="str").astype(kind)
    assert is_among(column, pd.Series(["a", "c", None, "a"], dtype="str")).tolist() == [True, False, False, True]


def test_numbers_are_compared_as_numbers():
    assert is_among(pd.Series([1.0, np.nan, 3.0]), pd.Series([3.0, np.nan])).tolist() == [False, False, True]


def test_among_nothing_is_nothing_and_a_column_without_cells_is_among_nothing():
    nothing = pd.Series([None, None], dtype="object")
    assert is_among(pd.Series(["a"], dtype="str"), pd.Series([], dtype="str")).tolist() == [False]
    assert is_among(nothing, pd.Series(["a"], dtype="str")).tolist() == [False, False]
    assert is_among(pd.Series(["a"], dtype="str"), nothing).tolist() == [False]


def test_it_is_what_pandas_finds_among_cells_that_are_there():
    chance = np.random.default_rng(5)
    for _ in range(200):
        column, others = (
            pd.Series(chance.choice(["a", "b", "c", "d", None], chance.integers(0, 9)), dtype="str") for _ in range(2)
        )
        assert is_among(column, others).tolist() == column.isin(others.dropna()).tolist()
