"""Tests of numbers, dates, lists and sentences as a locale writes them."""

import datetime as dt

import pytest
from babel import Locale

from pipeline.publish.written_values import listed_parts, sentence_parts, written_day, written_number

_BRITISH, _GERMAN = Locale.parse("en_GB"), Locale.parse("de_DE")


@pytest.mark.parametrize(
    ("plain", "decimals", "british", "german"),
    [
        ("1234.5", (0, 0), "1,234", "1.234"),
        ("1234.5", (2, 2), "1,234.50", "1.234,50"),
        ("0.125", (0, 6), "0.125", "0,125"),
        ("3", (1, 1), "3.0", "3,0"),
        ("-0.0", (0, 0), "-0", "-0"),
        ("0.0", (0, 0), "0", "0"),
    ],
)
def test_a_number_has_the_marks_of_its_locale_and_as_many_decimals_as_asked(plain, decimals, british, german):
    assert written_number(_BRITISH, "decimal", plain, decimals) == british
    assert written_number(_GERMAN, "decimal", plain, decimals) == german


@pytest.mark.parametrize(
    ("plain", "shown"),
    [("1e+300", "1.00000E+300"), ("-123456789012345678901234", "-1.23457E+23"), ("123456789012345678901", "123,456,789,012,345,678,901"),
     ("inf", "∞")],
)  # fmt: skip
def test_a_number_that_nobody_could_count_is_a_power_of_ten(plain, shown):
    assert written_number(_BRITISH, "decimal", plain, (0, 6)) == shown


def test_a_share_is_in_percent():
    assert written_number(_BRITISH, "percent", "0.875", (1, 1)) == "87.5%"


def test_a_day_is_written_with_or_without_its_weekday():
    day = dt.date(2026, 9, 30)
    assert written_day(_BRITISH, day, "medium") == "30 Sept 2026"
    assert written_day(_BRITISH, day, "full") == "Wednesday, 30 September 2026"


def test_a_sentence_in_pieces_is_escaped_for_markup_alone_and_its_names_are_kept():
    assert sentence_parts("a < {b} & {c}", is_markup=True) == ("a &lt; ", "b", " &amp; ", "c", "")
    assert sentence_parts("a < {b} & {c}", is_markup=False) == ("a < ", "b", " & ", "c", "")


def test_a_list_has_commas_and_the_word_before_the_last():
    assert listed_parts(_BRITISH, 3) == ("", "0", ", ", "1", " and ", "2", "")
    assert listed_parts(_BRITISH, 1) == ("", "0", "")
    assert listed_parts(_BRITISH, 0) == ("",)
