"""Cells of a workbook as people would write them."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.files.sheet_cells import as_texts


@pytest.mark.parametrize(
    ("cell", "text", "stored"),
    [
        (45123.0, "45123", True),
        (12.5, "12.5", True),
        (-0.0, "0", True),
        (12_345_678_901.0, "12345678901", True),
        (7, "7", True),
        (0.5, "0.5", True),
        ("  x\xa0", "  x\xa0", False),
        ("", None, False),
        (True, "True", False),
        (dt.date(2026, 9, 30), "2026-09-30", False),
        (dt.datetime(2026, 9, 30, 7, 5), "2026-09-30 07:05:00", False),
        (dt.time(6, 30), "06:30:00", False),
        (dt.timedelta(days=1, hours=12), "36:00:00", False),
        (dt.timedelta(minutes=-90), "-1:30:00", False),
    ],
)
def test_a_cell_is_written_as_people_would_write_it(cell, text, stored):
    for others in ([], ["other"], [1.5], [True, 1.0]):
        texts, numbers = as_texts((cell, *others))
        assert texts.to_pylist()[0] == text
        assert numbers.tolist()[0] is stored


@given(st.lists(st.floats(-1e9, 1e9).filter(lambda number: number == 0 or abs(number) > 1e-3), min_size=1))
def test_a_column_of_numbers_is_written_to_the_last_digit(numbers):
    texts, _ = as_texts(tuple(numbers))
    assert [float(text) for text in texts.to_pylist()] == numbers
    assert not any("e" in text or text.endswith(".0") for text in texts.to_pylist())
