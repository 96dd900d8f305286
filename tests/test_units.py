"""Units: every spelling, conversions against definitions, and what is refused."""

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.units import (
    DIMENSION_OF_UNIT,
    SPELLINGS,
    UREG,
    ambiguous_units,
    convert,
    plain_spelling,
    quantity,
    same_unit,
    unit_name,
    units_of,
)


@pytest.mark.parametrize(
    ("numbers", "spelling", "unit", "converted"),
    [
        # an inch is 25.4 mm, a foot 12 inches
        ([1, 18], "in", "mm", [25.4, 457.2]),
        ([1], "ft", "m", [0.3048]),
        ([2.5], "km", "m", [2500]),
        # a US gallon is 231 cubic inches, an imperial one 4.54609 L
        ([1], "us gal", "L", [3.785411784]),
        ([1], "imp gal", "L", [4.54609]),
        ([1], "m3", "L", [1000]),
        # a pound is 0.45359237 kg
        ([1], "lb", "kg", [0.45359237]),
        ([1], "t", "kg", [1000]),
        ([1590], "kg/m3", "kg/L", [1.59]),
        ([32, 212], "degF", "degC", [0, 100]),
        ([3], "wk", "day", [21]),
        ([1], "year", "month", [12]),
        ([1], "mph", "km/h", [1.609344]),
        ([20], "percent", "%", [20]),
        ([7], "bags", "", [7]),
    ],
)
def test_a_column_comes_in_the_unit_asked_for(numbers, spelling, unit, converted):
    assert convert(numbers, spelling, unit).tolist() == pytest.approx(converted, rel=1e-12)


def test_spellings_are_read_in_any_case_and_missing_numbers_stay_missing():
    found = convert([1.0, np.nan], " Inches ", "mm")
    assert found[0] == pytest.approx(25.4)
    assert np.isnan(found[1])


def test_in_its_own_unit_a_number_stays_the_same_to_the_last_bit():
    numbers = np.array([0.1, 1 / 3, 457.19999999999993])
    assert convert(numbers, "mm", "mm").tolist() == numbers.tolist()


@pytest.mark.parametrize("dimension", SPELLINGS)
def test_every_unit_converts_to_the_last_bit_as_with_all_of_pints_definitions(dimension):
    complete = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    numbers = np.array([0.0, 1.0, 1.7, 12.345, 3.3e5])
    names = {*SPELLINGS[dimension].values(), *(["dimensionless"] if dimension == "share" else [])}
    for have in names:
        for want in names:
            expected = complete.Quantity(numbers, have).to(want).magnitude
            assert UREG.Quantity(numbers, have).to(want).magnitude.tolist() == expected.tolist(), (have, want)


@pytest.mark.parametrize(("spelling", "unit"), [("kg", "mm"), ("furlong", "m"), ("", "mm"), ("mm", "parsec")])
def test_a_spelling_of_another_dimension_or_of_none_is_a_defect_of_the_caller(spelling, unit):
    with pytest.raises(KeyError):
        convert([1], spelling, unit)


@pytest.mark.parametrize(
    ("text", "unit", "number"),
    [
        ("9 mm", "mm", 9),
        ("9mm", "mm", 9),
        (" 9  mm ", "mm", 9),
        ("1e1 cm", "mm", 100),
        ("-15 m", "m", -15),
        ("+2.5 L", "L", 2.5),
        ("20 %", "%", 0.2),
        ("20", "", 20),
        ("10 working day", "working day", 10),
        ("6 months", "month", 6),
    ],
)
def test_a_written_quantity_is_a_number(text, unit, number):
    assert quantity(text, unit) == pytest.approx(number, rel=1e-12)


@pytest.mark.parametrize("text", ["9", "mm", "", "9 mm mm", "9,5 mm", "1/2 in", 9, None, True, "nine mm", ["9 mm"]])
def test_what_is_not_a_number_with_a_unit_is_refused_with_an_example(text):
    with pytest.raises(ValueError, match=r'expected a length with its unit, such as "15 m"'):
        quantity(text, "mm")


def test_another_dimension_is_refused_with_the_units_there_are():
    with pytest.raises(ValueError) as error:
        quantity("9 kg", "mm")
    assert str(error.value) == (
        "found '9 kg', expected a length with its unit, such as \"15 m\"; known units: mm, cm, m, km, in, ft"
    )


@pytest.mark.parametrize("unit", DIMENSION_OF_UNIT)
def test_every_unit_inside_is_a_spelling_of_its_own_dimension(unit):
    assert unit in SPELLINGS[DIMENSION_OF_UNIT[unit]]


@pytest.mark.parametrize("dimension", sorted(set(DIMENSION_OF_UNIT.values())))
def test_the_units_of_a_dimension_are_named_once_each_by_a_spelling_that_is_read(dimension):
    names = units_of(dimension).split(", ")
    assert len(set(names)) == len(names)
    for name in names:
        assert name.lower() in SPELLINGS[dimension]


@settings(deadline=None)
@given(st.floats(-1e6, 1e6), st.sampled_from(sorted(set(SPELLINGS["length"]))), st.sampled_from(["mm", "m"]))
def test_there_and_back_a_length_is_the_same(number, spelling, unit):
    there = convert([number], spelling, unit)
    factor = convert([1.0], spelling, unit)
    assert (there / factor)[0] == pytest.approx(number, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    ("written", "plain"),
    [
        ("In.", "in"),
        (" inch. ", "inch"),
        ("″", '"'),
        ("ºF", "°f"),
        ("℉", "°f"),
        ("deg. F", "deg f"),
        ("U.S. gal", "us gal"),
        ("gal. (U.S.)", "gal (us)"),
        ("IMP.GAL", "imp gal"),
        ("U.K. gallons", "uk gallons"),
        ("m³", "m^3"),
    ],
)
def test_a_unit_is_the_same_unit_with_other_marks_and_with_full_stops(written, plain):
    assert plain_spelling(written) == plain
    assert any(plain in known for known in SPELLINGS.values())


def test_units_have_one_name_whatever_their_spelling():
    assert units_of("volume") == "L, mL, m^3, us gal, imp gal, us qt"
    assert units_of("temperature") == "degC, degF"
    assert unit_name("gallon (uk)", "volume") == "imp gal"
    assert unit_name("degrees fahrenheit", "temperature") == "degF"


def test_two_spellings_of_a_unit_are_the_same_and_two_gallons_are_not():
    assert same_unit("Inches", '"')
    assert same_unit("degF", "°F")
    assert not same_unit("us gal", "imp gal")
    assert not same_unit("degC", "degF")
    assert not same_unit("nonsense", "in")


def test_a_gallon_without_its_country_and_a_degree_without_its_scale_may_be_two_units():
    assert ambiguous_units("Gal.", "volume") == ("us gal", "imp gal")
    assert ambiguous_units("°", "temperature") == ("degC", "degF")
    assert ambiguous_units("us gal", "volume") == ()
    assert ambiguous_units("gal", "length") == ()
