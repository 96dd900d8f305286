"""Numbers as people write them: marks, groups, and what could be two things."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake.cells.numbers import NUMBER, read_numbers


def _read(written, decimal=None, **more):
    return read_numbers(pd.Series([written], dtype="str"), decimal, **more)[0]


@pytest.mark.parametrize(
    ("written", "number"),
    [
        ("12", 12),
        ("-12", -12),
        ("+0.5", 0.5),
        (".5", 0.5),
        (",5", 0.5),
        ("1.234", 1.234),
        ("12,5", 12.5),
        ("0,590", 0.59),
        ("1234,567", 1234.567),
        ("1.234,5", 1234.5),
        ("1,234.5", 1234.5),
        ("1,234,567", 1234567),
        ("1.234.567", 1234567),
        ("1,234,567.25", 1234567.25),
        ("1.234.567,8", 1234567.8),
        ("512 345,67", 512345.67),
        ("1 234.5", 1234.5),
        ("-1 234 567", -1234567),
        ("1\xa0234", 1234),
        ("1\u2009234,5", 1234.5),
        ("1'234.5", 1234.5),
        ("12’345’678", 12345678),
    ],
)
def test_a_number_that_can_only_be_one_thing_is_read(written, number):
    assert _read(written) == number


@pytest.mark.parametrize("written", ["1,200", "999,000", "-1,200"])
def test_a_single_comma_before_three_digits_could_be_either(written):
    assert np.isnan(_read(written))


@pytest.mark.parametrize(
    ("written", "decimal", "number"),
    [
        ("1,200", ",", 1.2),
        ("1,200", ".", 1200),
        ("1.200", ",", 1200),
        ("1.200", ".", 1.2),
        ("1.200", None, 1.2),
        ("12,5", ".", 12.5),
        ("0.200", ",", 0.2),
    ],
)
def test_the_decimal_mark_that_is_set_decides(written, decimal, number):
    assert _read(written, decimal) == number


def test_in_degrees_a_single_comma_is_the_decimal_mark():
    assert _read("82,200", lone_comma=True) == 82.2


@pytest.mark.parametrize(
    "written",
    [
        "1,23,4",
        "1.23.4",
        "12,34.5,6",
        "1,2345.6",
        "abc",
        "",
        "1 000",
        "18 450",
        "1 23,4",
        "1234 567",
        "01 234.5",
        "1e400",
    ],
)
def test_what_is_not_a_number_is_missing(written):
    assert np.isnan(_read(written))


def test_each_cell_has_its_own_answer_on_its_own_index():
    cells = pd.Series(["1,234.5", None, "1.234,5", "1,200"], index=[4, 3, 9, 1], dtype="str")
    read = read_numbers(cells, None)
    assert read.index.tolist() == [4, 3, 9, 1]
    assert read.tolist()[::2] == [1234.5, 1234.5]
    assert read.isna().tolist() == [False, True, False, True]


@settings(deadline=None)
@given(st.decimals(min_value=-9_999_999, max_value=9_999_999, places=2))
def test_grouped_in_either_way_a_number_of_two_decimals_comes_back(number):
    english = f"{number:,.2f}"
    german = english.translate(str.maketrans(",.", ".,"))
    assert _read(english) == float(number)
    assert _read(german) == float(number)
    assert pd.Series([english, german]).str.fullmatch(NUMBER).all()


@pytest.mark.parametrize("decimal", [None, ".", ","])
def test_numbers_with_a_point_at_most_are_read_alike_with_and_without_one_that_has_more(decimal):
    plain = ["450", "-3.5", "1.234", "0.1", ".5", None, "x", ""]
    alone = read_numbers(pd.Series(plain, dtype="str"), decimal)
    pd.testing.assert_series_equal(alone, read_numbers(pd.Series([*plain, "1,234.5"], dtype="str"), decimal).iloc[:-1])
