"""Quantities of a programme file: with their unit, within what is possible."""

import datetime as dt

import pytest
from pydantic import TypeAdapter, ValidationError

from pipeline.programme.sections import (
    AuditDay,
    Days,
    Detour,
    KilometresAnHour,
    Metres,
    Minutes,
    NamesNear,
    Packs,
    PositiveDays,
    PositiveMetres,
    Price,
    Section,
    Share,
    Waste,
)  # fmt: skip


def _read(kind, written):
    return TypeAdapter(kind).validate_python(written)


@pytest.mark.parametrize(
    ("kind", "written", "number"),
    [
        (Metres, "0 m", 0),
        (Metres, "50 ft", 15.24),
        (PositiveMetres, "1 cm", 0.01),
        (Share, "95 %", 0.95),
        (Waste, "0 %", 0),
        (Waste, "50 %", 0.5),
        (Days, "2 wk", 14),
        (Days, "0 day", 0),
        (Minutes, "1 h", 60),
        (KilometresAnHour, "5 km/h", 5),
        # 1.609344 km is a mile
        (KilometresAnHour, "10 mph", 16.09344),
    ],
)
def test_a_quantity_comes_in_the_unit_of_its_name(kind, written, number):
    assert _read(kind, written) == pytest.approx(number, rel=1e-12)


def test_a_percentage_is_exactly_its_hundredth():
    assert _read(Share, "95 %") == 0.95
    assert _read(Share, "29 %") == 0.29


@pytest.mark.parametrize(
    ("kind", "written", "allowed"),
    [
        (Metres, "-1 m", "at least 0 m and at most 100 km"),
        (Metres, "100001 m", "at least 0 m and at most 100 km"),
        (PositiveMetres, "0 m", "above 0 m and at most 100 km"),
        (PositiveMetres, "-2 ft", "above 0 m and at most 100 km"),
        (PositiveMetres, "1e99 m", "above 0 m and at most 100 km"),
        (Share, "0 %", "above 0 % and below 100 %"),
        (Share, "100 %", "above 0 % and below 100 %"),
        (Waste, "120 %", "at least 0 % and at most 50 %"),
        (Waste, "-1 %", "at least 0 % and at most 50 %"),
        (Days, "-1 day", "at least 0 day and at most 730 day"),
        (Days, "3000000 day", "at least 0 day and at most 730 day"),
        (PositiveDays, "0 day", "above 0 day and at most 3650 day"),
        (PositiveDays, "3651 day", "above 0 day and at most 3650 day"),
        (Minutes, "0 min", "above 0 min and at most 24 h"),
        (Minutes, "25 h", "above 0 min and at most 24 h"),
        (KilometresAnHour, "0 mph", "above 0 km/h and at most 150 km/h"),
        (KilometresAnHour, "151 km/h", "above 0 km/h and at most 150 km/h"),
        (Detour, 0.9, "a number from 1 to 10"),
        (NamesNear, 0, "a number from 1 to 1,000"),
        (Packs, 0, "a whole number from 1 to 1,000,000"),
        (Packs, 1.5, "a whole number from 1 to 1,000,000"),
        (Price, -1, "a number from 0 to 1,000,000"),
        (Price, float("inf"), "a number from 0 to 1,000,000"),
        (AuditDay, dt.date(9999, 12, 31), "a date from 1900-01-01 to 2199-12-31"),
    ],
)
def test_beyond_its_limits_a_quantity_is_refused_as_it_was_written(kind, written, allowed):
    with pytest.raises(ValidationError) as error:
        _read(kind, written)
    found = written if isinstance(written, dt.date) else repr(written)
    assert error.value.errors()[0]["msg"] == f"Value error, found {found}, expected {allowed}"


@pytest.mark.parametrize("written", ["15", 15, "15 kg", None, "m"])
def test_a_length_without_its_unit_or_of_another_dimension_is_refused(written):
    with pytest.raises(ValidationError, match="expected a length with its unit, such as"):
        _read(Metres, written)


def test_a_section_refuses_unknown_keys_and_never_changes():
    class Yard(Section):
        reach_m: Metres = "5 m"  # type: ignore[assignment]

    assert Yard().reach_m == 5
    with pytest.raises(ValidationError):
        Yard.model_validate({"rech": "5 m"})
    with pytest.raises(ValidationError):
        Yard().reach_m = 7
