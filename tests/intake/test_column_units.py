"""The unit of bare numbers: where it is from, and what is said where units disagree or none is known."""

import pytest

from pipeline.contracts import Column
from pipeline.intake.column_units import UnusableColumnError, column_unit, missing_unit

_DEPTH = Column("depth_mm", "number", "mm")
_AIR = Column("air_temperature_c", "number", "degC")
_WATER = Column("water_l", "number", "L")


def _unit(column, source, in_row=None, in_programme=None):
    return column_unit(column, source, in_row, in_programme, f"cores.units.{column.short}")


def _refusal(column, source, in_row=None, in_programme=None):
    with pytest.raises(UnusableColumnError) as error:
        _unit(column, source, in_row, in_programme)
    return error.value.what, error.value.remedy


@pytest.mark.parametrize(
    ("source", "in_row", "in_programme", "unit", "unit_from"),
    [
        ("Depth", None, None, None, "cells"),
        ("Depth", None, "in", "in", "programme"),
        ("Depth (in)", None, None, "in", "header"),
        ("Depth (in)", None, "inches", "inches", "header"),
        ("depth_mm", None, None, "mm", "column name"),
        ("Depth", "in", None, "in", "units row"),
        ("Depth (in)", "inches", None, "in", "units row"),
        ("Depth (in)", "as cut", None, "in", "header"),
        ("Depth", "as cut", None, None, "cells"),
    ],
)
def test_the_unit_is_that_of_the_programme_else_of_the_row_of_units_else_of_the_header(
    source, in_row, in_programme, unit, unit_from
):
    found = _unit(_DEPTH, source, in_row, in_programme)
    assert (found.unit, found.unit_from, found.notice) == (unit, unit_from, "")


def test_a_programme_that_contradicts_the_header_is_refused_with_both_units():
    assert _refusal(_AIR, "Temp °F", in_programme="degC") == (
        'has the unit "°F" in its header, but the programme file has cores.units.air_temperature = "degC"',
        'Set cores.units.air_temperature to "degF"; if the header is wrong, correct it in the file.',
    )
    assert _refusal(_DEPTH, "Depth", "in", "mm")[0].startswith('has the unit "in" in its header')


def test_the_programme_settles_which_gallon_and_nothing_else():
    assert _unit(_WATER, "Water (gal)", in_programme="imp gal").unit == "imp gal"
    what, remedy = _refusal(_WATER, "Water (gal)", in_programme="L")
    assert 'the unit "gal"' in what
    assert remedy.startswith('Set cores.units.water to "us gal" or "imp gal";')


def test_a_header_of_another_dimension_is_reported_and_the_programme_is_followed():
    found = _unit(_WATER, "Water (kg)", in_programme="L")
    assert found.unit == "L"
    assert found.notice == (
        'has the unit "kg" in its header, which is not a unit of volume; cores.units.water = "L" is used.'
    )


def test_a_header_and_a_row_of_units_that_differ_are_settled_by_the_programme_alone():
    assert _refusal(_DEPTH, "Depth (in)", "mm") == (
        'has the unit "in" in its header and "mm" in the units row',
        'Correct the file, or set cores.units.depth to "in" or "mm".',
    )
    found = _unit(_DEPTH, "Depth (in)", "mm", "mm")
    assert found.unit == "mm"
    assert found.notice.endswith('and "mm" in the units row; cores.units.depth = "mm" is used.')
    _refusal(_DEPTH, "Depth (in)", "mm", "cm")


def _missing(column, source):
    error = missing_unit(column, _unit(column, source), "5", f"cores.units.{column.short}")
    return f"{error.what}. {error.remedy}"


def test_without_a_unit_anywhere_all_of_the_dimension_are_named_and_none_is_preferred():
    assert _missing(_AIR, "Temp") == (
        "has bare numbers such as '5'. Set cores.units.air_temperature to the unit of these numbers: one of degC, degF."
    )


def test_of_a_gallon_it_is_asked_which():
    assert _missing(_WATER, "Water (gal)") == (
        "has bare numbers such as '5', and its header says \"gal\", which may be us gal or imp gal. "
        'Set cores.units.water to "us gal" or "imp gal".'
    )


def test_a_header_in_a_unit_of_another_dimension_puts_the_column_in_question():
    assert _missing(_WATER, "Water (kg)") == (
        "has bare numbers such as '5', and its header says \"kg\", which is not a unit of volume. Choose another column "
        "for `water`. If it is the right one, set cores.units.water to the unit of these numbers: one of L, mL, m^3, "
        "us gal, imp gal, us qt."
    )
