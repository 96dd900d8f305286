"""The digits of written measures: what each cell says of its own step, in the unit it was written in."""

import numpy as np
import pandas as pd
import pytest

from pipeline.intake.cells.measures import read_measures
from pipeline.intake.cells.written_digits import decimals_of


def _written(*cells, unit="mm", bare="mm", decimal=None):
    read = read_measures(pd.Series(cells, dtype="str"), unit, bare, decimal)
    return read.written.distinct.iloc[read.written.codes].reset_index(drop=True)


@pytest.mark.parametrize(
    ("cell", "number", "unit", "step"),
    [
        ("200", 200.0, "millimetre", 1.0),
        ("200.0", 200.0, "millimetre", 0.1),
        ("45 cm", 45.0, "centimetre", 1.0),
        ("0,46 m", 0.46, "metre", 0.01),
        ("18 in", 18.0, "inch", 1.0),
        ('17 1/2"', 17.5, "inch", 0.5),
        ("3/8 in", 0.375, "inch", 0.125),
        ("½ in", 0.5, "inch", 0.5),
        ("1'8\"", 20.0, "inch", 1.0),
        ("1' 8 1/4\"", 20.25, "inch", 0.25),
        ("1.5 ft", 1.5, "foot", 0.1),
        ("1 234,50 mm", 1234.5, "millimetre", 0.01),
    ],
)
def test_a_cell_says_its_number_its_unit_and_the_step_of_its_last_digit(cell, number, unit, step):
    found = _written(cell).iloc[0]
    assert found["number"] == pytest.approx(number)
    assert found["unit"] == unit
    assert found["digit_step"] == pytest.approx(step)


def test_gallons_and_litres_of_one_column_keep_their_own_steps():
    found = _written("2.11 gal", "8 L", "2.5", unit="L", bare="us gal")
    assert found["unit"].tolist() == ["gallon", "litre", "gallon"]
    assert found["digit_step"].tolist() == pytest.approx([0.01, 1.0, 0.1])


def test_a_cell_that_was_not_read_has_no_step():
    found = _written("?", None, "18 furlongs", "200")
    assert found["digit_step"].isna().tolist() == [True, True, True, False]


@pytest.mark.parametrize(
    ("text", "places"),
    [
        ("2.1", 1),
        ("2.10", 2),
        ("2", 0),
        ("-0.05", 2),
        # the nearest binary fractions, of a spreadsheet's sum and of half as many bits
        ("2.1000000000000001", 1),
        ("0.30000000000000004", 1),
        ("2.0999999046325684", 1),
        ("457.20001220703125", 1),
        # two gallons in litres, and 70 degF in degC: their digits are their own
        ("7.570823568", 9),
        ("21.11111111111111", 10),
    ],
)
def test_binary_noise_does_not_count_as_digits(text, places):
    assert decimals_of(pd.Series([text], dtype="str")).tolist() == [places]


def test_many_digits_say_no_more_than_twelve_of_them():
    assert decimals_of(pd.Series(["0.123456789012345678", None], dtype="str")).tolist() == pytest.approx(
        [12, np.nan], nan_ok=True
    )
