"""Sizes as people write them; every expected figure is an inch of 25.4 mm by hand."""

import numpy as np
import pandas as pd
import pytest

from pipeline.contracts import is_missing
from pipeline.intake.cells.measures import read_measures


def _read(*cells, unit="mm", bare="mm", decimal=None):
    return read_measures(pd.Series(cells, dtype="str"), unit, bare, decimal)


@pytest.mark.parametrize(
    ("written", "mm"),
    [
        ("18 in", 457.2),
        ('18"', 457.2),
        (" 18 IN. ", 457.2),
        ("18 inches", 457.2),
        ('17 1/2"', 444.5),
        ("17-1/2 in", 444.5),
        ('17½"', 444.5),
        ("1/2 in", 12.7),
        ("1'8\"", 508.0),
        ("1' 8", 508.0),
        ("1’-8”", 508.0),
        ("1 ft 8 in", 508.0),
        ("1 ft 8 1/2 in", 520.7),
        ("1 ft 1/2 in", 317.5),
        ("1'", 304.8),
        ("2 feet", 609.6),
        ("450 mm", 450.0),
        ("450MM", 450.0),
        ("45cm", 450.0),
        ("0,59 m", 590.0),
        ("0.59 metres", 590.0),
        ("Ø450 mm", 450.0),
        ("dia. 450 mm", 450.0),
        ("450", 450.0),
        ("450.0", 450.0),
        ("1.234,5 mm", 1234.5),
        ("1,234.5 mm", 1234.5),
        ("-3 in", -76.2),
        ("Ø 18 ″", 457.2),
        ("18 inch.", 457.2),
        ("18in", 457.2),
        ("457,2 mm", 457.2),
        ("0.457m", 457.0),
        # as programs write what is very small or large
        ("4.50E+02 mm", 450.0),
        ("5.551115123125783e-17", 0.0),
        ("1e+2 in", 2540.0),
        # the sign is that of feet and inches
        ("-0'1\"", -25.4),
        ("-1'8\"", -508.0),
        ("-1 ft 1/2 in", -317.5),
        # groups of three digits, as in 1,234.5
        ("1'234.5 mm", 1234.5),
        ("1 234,5 mm", 1234.5),
        ("1\u202f234 mm", 1234.0),
        # 1 ft and 100 in are 112 in
        ("1'100\"", 2844.8),
        # implausible, and still a size
        ("999999999999", 999999999999.0),
    ],
)
def test_a_size_is_read_as_it_was_meant(written, mm):
    assert _read(written).values[0] == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    ("written", "problem"),
    [
        ("about 18", "unreadable"),
        ("18-20 in", "unreadable"),
        ("18 kg", "unreadable"),
        ("1/0 in", "unreadable"),
        ("1'1/0\"", "unreadable"),
        ("9" * 400 + " mm", "unreadable"),
        ("9" * 308 + " m", "unreadable"),
        ("9" * 400 + "/2 in", "unreadable"),
        ("9" * 308 + "' 1\"", "unreadable"),
        ("1' " + "9" * 400 + '/2"', "unreadable"),
        # a job number in the column of a size: beyond 2 to the power of 52 no map could show it
        ("4503599627370497", "unreadable"),
        ("-4503599627370497", "unreadable"),
        ("18 x 12 in", "unreadable"),
        ("1e3 mm", "unreadable"),
        ("17 ١/٢ in", "unreadable"),
        ("18 in approx", "unreadable"),
        ("1,200 mm", "thousands or decimals"),
    ],
)
def test_what_is_not_sure_is_not_read(written, problem):
    read = _read(written)
    assert np.isnan(read.values[0])
    assert read.problem[0] == problem


def test_a_bare_number_without_a_declared_unit_is_refused():
    read = _read("450", "450 mm", bare=None)
    assert read.problem.tolist()[0] == "no unit"
    assert read.values[1] == 450


def test_the_decimal_setting_settles_a_lone_comma():
    assert _read("1,200 m", unit="mm", decimal=",").values[0] == pytest.approx(1200)
    assert _read("1,200 mm", decimal=".").values[0] == pytest.approx(1200)


def test_words_for_nothing_are_missing_and_no_problem():
    cells = pd.Series(["", " ", "n/a", "Unknown", "-", None], dtype="str")
    assert is_missing(cells).all()
    read = read_measures(cells, "mm", "mm", None)
    assert read.values.isna().all()
    assert read.problem.isna().all()


def test_temperatures_are_converted_with_their_offset():
    assert _read("70 F", "21", "21 °C", unit="degC", bare="degC").values.tolist() == pytest.approx([190 / 9, 21, 21])


@pytest.mark.parametrize(
    ("written", "celsius"),
    [
        ("75F", 215 / 9),
        ("75 °F", 215 / 9),
        ("75° F", 215 / 9),
        ("75 ºF", 215 / 9),
        ("75 degrees F", 215 / 9),
        ("75 deg. F", 215 / 9),
        ("75 Fahrenheit", 215 / 9),
        ("24C", 24),
        ("24 ℃", 24),
    ],
)
def test_a_temperature_is_read_with_its_scale_however_that_is_written(written, celsius):
    """75 °F are (75 - 32) x 5/9 = 215/9 °C."""
    assert _read(written, unit="degC", bare=None).values[0] == pytest.approx(celsius)


def test_a_degree_sign_without_a_scale_takes_that_of_the_column():
    assert _read("212°", unit="degC", bare="degF").values[0] == pytest.approx(100)
    assert _read("24°", unit="degC", bare=None).problem[0] == "no unit"


@pytest.mark.parametrize(
    ("written", "litres"),
    [
        ("2 US gal", 7.570823568),
        ("2 U.S. gal", 7.570823568),
        ("2 gal (US)", 7.570823568),
        ("2 imp. gal", 9.09218),
        ("2 UK gallons", 9.09218),
    ],
)
def test_a_gallon_is_read_where_its_country_is_written(written, litres):
    """A US gallon is 3.785411784 L, an imperial one 4.54609 L."""
    assert _read(written, unit="L", bare=None).values[0] == pytest.approx(litres)


def test_a_gallon_without_a_country_is_read_only_in_a_column_of_gallons():
    for bare in (None, "L"):
        read = _read("2 gal", unit="L", bare=bare)
        assert np.isnan(read.values[0])
        assert read.problem[0] == "which gallon"
    assert _read("2 gal.", unit="L", bare="imp gal").values[0] == pytest.approx(9.09218)


@pytest.mark.parametrize(
    ("written", "bags"), [("2 1/2", 2.5), ("2½", 2.5), ("½", 0.5), ("2.5 bags", 2.5), ("3 sacks", 3), ("-3", -3)]
)
def test_bags_are_counted_with_or_without_their_noun(written, bags):
    assert _read(written, unit="", bare=None).values[0] == bags


def test_two_numbers_with_a_blank_between_them_are_not_joined():
    assert _read("18 450 mm").problem[0] == "unreadable"


def test_the_unit_of_bare_numbers_is_the_same_in_any_case():
    assert _read("18", bare="IN").values[0] == pytest.approx(457.2)


def test_the_index_is_kept_and_repeats_are_read_once_and_given_to_all():
    cells = pd.Series(["18 in", None, "18 in"], index=[7, 3, 9], dtype="str")
    read = read_measures(cells, "mm", None, None)
    assert read.values.index.tolist() == [7, 3, 9]
    assert read.values.dropna().tolist() == pytest.approx([457.2, 457.2])


@pytest.mark.parametrize("written", ["{}/2 in", "1/{} in", "{} 1/2 in"])
def test_a_fraction_of_endless_digits_is_unreadable_and_stops_nothing(written):
    read = _read(written.format("1" * 5000), "1/2 in")
    assert read.problem[0] == "unreadable"
    assert read.values[1] == pytest.approx(12.7)


@pytest.mark.parametrize("decimal", [None, ".", ","])
@pytest.mark.parametrize("bare_unit", ["mm", "in", None])
def test_bare_numbers_are_read_alike_with_and_without_a_cell_of_another_form(bare_unit, decimal):
    bare = ["450", "+9", "-3.5", "0.125", "1.234", "12.3400", None, "n/a", " 7 ", "007", "1" * 400]
    alone = read_measures(pd.Series(bare, dtype="str"), "mm", bare_unit, decimal)
    mixed = read_measures(pd.Series([*bare, "ø 18 1/2 in"], dtype="str"), "mm", bare_unit, decimal)
    pd.testing.assert_series_equal(alone.values, mixed.values.iloc[:-1])
    pd.testing.assert_series_equal(alone.problem, mixed.problem.iloc[:-1])
    written = [
        one.written.distinct.iloc[one.written.codes[: len(bare)]].reset_index(drop=True) for one in (alone, mixed)
    ]
    pd.testing.assert_frame_equal(*written)
