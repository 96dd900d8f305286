"""Which texts a spreadsheet would run, and how the apostrophe before one is taken off again."""

import re

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.spreadsheet_text import FORMULA, PLAIN_NUMBER, as_written


@pytest.mark.parametrize(
    "text", ["=1", "+1", "-1", "@A1", "\t=1", "\r=1", "\n=1", "\uff1d1", "\uff0b1", "\uff0d1", "\uff201"]
)
def test_a_text_that_begins_like_a_formula_is_recognised_with_or_without_apostrophes(text):
    for apostrophes in ("", "'", "''"):
        assert re.match(FORMULA, apostrophes + text)
    assert not re.match(FORMULA, "a" + text)


@pytest.mark.parametrize(
    ("text", "is_number"),
    [("-3.5", True), ("+0,5", True), ("-12", True), ("3", False), ("-1e3", False), ("-1-2", False)],
)
def test_a_signed_number_is_no_formula(text, is_number):
    assert bool(re.match(PLAIN_NUMBER, text)) == is_number


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        ("'=1", "=1"),
        ("''=1", "'=1"),
        # apostrophes of the register's own
        ("'quoted'", "'quoted'"),
        ("=1", "=1"),
        ("", ""),
    ],
)
def test_one_apostrophe_comes_off_and_only_before_a_formula(cell, written):
    assert as_written(pd.Series([cell], dtype="str")).tolist() == [written]


def test_a_missing_cell_stays_missing():
    assert as_written(pd.Series(["'=1", None], dtype="str")).isna().tolist() == [False, True]


@settings(deadline=None)
@given(st.lists(st.text(max_size=5), min_size=1))
def test_at_most_one_apostrophe_comes_off(cells):
    back = as_written(pd.Series(cells, dtype="str")).tolist()
    assert all(text == cell or cell == f"'{text}" for text, cell in zip(back, cells, strict=True))
