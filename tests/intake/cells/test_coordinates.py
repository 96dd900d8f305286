"""Coordinates as people write them, with the step of their last digit."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.cells.coordinates import read_column

_SECOND = 1 / 3600


def _read(text, decimal=None, *, is_degrees=True):
    found = read_column(pd.Series([text], dtype="str"), decimal, is_degrees=is_degrees)
    form = found.form[0]
    return found.value[0], found.step[0], "" if pd.isna(form) else form


@pytest.mark.parametrize(
    ("text", "value", "step", "form"),
    [
        ("-82.20", -82.2, 0.01, ""),
        (" −82.2 ", -82.2, 0.1, ""),
        ("45", 45, 1, ""),
        ("-82,200", -82.2, 0.001, "decimal comma"),
        ("82.20W", -82.2, 0.01, "dms"),
        ("W 82 12", -82.2, 1 / 60, "dms"),
        ("N44 48.0", 44.8, 0.1 / 60, "dms"),
        ("44°48'00\"N", 44.8, _SECOND, "dms"),
        ("44º48′00.0″ N", 44.8, 0.1 * _SECOND, "dms"),
        ("44° 48’ 0,00”", 44.8, 0.01 * _SECOND, "dms"),
    ],
)
def test_an_angle_is_read_with_the_step_of_its_last_digit(text, value, step, form):
    found = _read(text)
    assert found[:2] == pytest.approx((value, step))
    assert found[2] == form


@pytest.mark.parametrize(
    ("text", "decimal", "value", "step", "form"),
    [
        ("512345.67", None, 512345.67, 0.01, ""),
        ("512300", None, 512300, 1, ""),
        ("512 345,67", None, 512345.67, 0.01, "decimal comma"),
        ("4 512 345,67", None, 4512345.67, 0.01, "decimal comma"),
        ("512\u202f345.6", None, 512345.6, 0.1, "grouped digits"),
        ("512'345.67", None, 512345.67, 0.01, "grouped digits"),
        ("2’600’000", None, 2600000, 1, "grouped digits"),
        ("4.512.345,67", None, 4512345.67, 0.01, "decimal comma"),
        ("4,512,345.67", None, 4512345.67, 0.01, "grouped digits"),
        ("4.512.345", None, 4512345, 1, "grouped digits"),
        ("405,166", ".", 405166, 1, "grouped digits"),
        ("405,166", ",", 405.166, 0.001, "decimal comma"),
        ("405.166", ",", 405166, 1, "grouped digits"),
        ("405166.5", ",", 405166.5, 0.1, ""),
    ],
)
def test_a_length_is_read_with_its_groups_and_its_decimal_mark(text, decimal, value, step, form):
    assert _read(text, decimal, is_degrees=False) == (value, step, form)


@pytest.mark.parametrize("text", ["405,166", "512 34", "51 2345", "12'34", "44°48'", "82.2W", "x", "1 234 56"])
def test_a_length_that_could_be_two_numbers_or_is_none_is_not_read(text):
    assert np.isnan(_read(text, is_degrees=False)[0])


@pytest.mark.parametrize("text", ["44 75", "44 48 75", "-82.2 W", "N 44 S", "44.8x", "4 4 4 4", ""])
def test_an_angle_that_contradicts_itself_is_not_read(text):
    assert np.isnan(_read(text)[0])


def test_grouped_metres_are_read_in_degrees_too_so_that_they_can_be_named():
    assert _read("4 512 345")[0] == 4512345


def test_the_zeros_that_a_number_ends_in_are_counted():
    text = pd.Series(["512300", "512 300,10", "5.00", "7"], dtype="str")
    found = read_column(text, None, is_degrees=False)
    assert found.zeros.tolist() == [2, 1, 2, 0]
    assert found.decimals.tolist() == [0, 2, 2, 0]


@given(st.integers(-9_999_999, 9_999_999), st.integers(0, 5))
def test_a_number_written_with_groups_and_either_mark_is_the_same_number(whole, places):
    text = f"{whole / 10**places:,.{places}f}"
    plain = float(text.replace(",", ""))
    swiss, french = text.replace(",", "'"), text.replace(",", " ").replace(".", ",")
    for written, decimal in ((swiss, "."), (french, ",")):
        value, step, _ = _read(written, decimal, is_degrees=False)
        assert (value, step) == (plain, pytest.approx(10.0**-places))


@given(st.integers(0, 179), st.integers(0, 59), st.integers(0, 59_999), st.sampled_from("NSEW"))
def test_degrees_minutes_and_seconds_add_up_whatever_signs_are_used(degrees, minutes, thousandths, letter):
    seconds = f"{thousandths / 1000:.3f}"
    value = degrees + minutes / 60 + thousandths / 3_600_000
    expected = -value if letter in "SW" else value
    for text in (f"{degrees}°{minutes}'{seconds}\"{letter}", f"{letter} {degrees} {minutes} {seconds}"):
        assert _read(text)[:2] == pytest.approx((expected, 0.001 / 3600))


@pytest.mark.parametrize("is_degrees", [True, False])
def test_a_number_of_endless_digits_with_a_comma_stops_nothing(is_degrees):
    assert np.isnan(_read("1" * 5000 + ",5", ",", is_degrees=is_degrees)[0])
