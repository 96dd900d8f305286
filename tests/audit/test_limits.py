"""Limits: read with their unit, varied by place, applied by width or on the calendar."""

import datetime as dt
from dataclasses import dataclass
from typing import Annotated

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.audit.limits import (
    Bands,
    ByWidth,
    Celsius,
    Count,
    Day,
    Days,
    LitresPerKilogram,
    Metres,
    Millimetres,
    Minutes,
    Months,
    Share,
    WorkingDays,
    limit_fields,
    limit_in_words,
    months_after,
    read_limit,
    vary_limit,
    widths_limit,
)
from pipeline.audit.registry import RULES
from pipeline.audit.rules.placement import GroutLongLimits
from pipeline.audit.rules.sizes import DiameterLimits
from pipeline.errors import ContractError, SettingsError

_WRITTEN = [["400 mm", "10 mm"], ["20 in", "12 mm"], ["above", "14 mm"]]
_BANDS = Bands((400.0, 508.0), (10.0, 12.0, 14.0))


@dataclass(frozen=True)
class _EveryKind:
    min_clear_mm: Millimetres
    deep_from_m: Metres
    max_open_days: Days
    max_delay_working_days: WorkingDays
    window_months: Months
    supplier_time_min: Minutes
    datum_c: Celsius
    ratio_l_per_kg: LitresPerKilogram
    min_share: Share
    max_cores: Count
    earliest: Day
    max_depression_mm: ByWidth


# every kind has another unit
_FIELDS = {field.unit: field for field in limit_fields(_EveryKind).values()}


@pytest.mark.parametrize(
    ("key", "name", "unit"),
    [
        ("min_clear", "min_clear_mm", "mm"),
        ("deep_from", "deep_from_m", "m"),
        ("max_open", "max_open_days", "day"),
        ("max_delay", "max_delay_working_days", "working day"),
        ("window", "window_months", "month"),
        ("supplier_time", "supplier_time_min", "min"),
        ("datum", "datum_c", "degC"),
        ("ratio", "ratio_l_per_kg", "L/kg"),
        ("min_share", "min_share", "%"),
        ("max_cores", "max_cores", ""),
        ("earliest", "earliest", "date"),
        ("max_depression", "max_depression_mm", "bands"),
    ],
)
def test_the_key_in_the_settings_is_the_name_without_its_unit(key, name, unit):
    field = limit_fields(_EveryKind)[key]
    assert (field.name, field.key, field.unit) == (name, key, unit)


def test_a_rule_without_limits_has_no_fields():
    assert limit_fields(None) == {}


def test_a_limit_whose_name_lacks_its_unit_is_refused():
    @dataclass(frozen=True)
    class Unnamed:
        max_open: Days

    with pytest.raises(ContractError, match=r"Unnamed\.max_open: expected _days"):
        limit_fields(Unnamed)


@pytest.mark.parametrize("kind", [float, Annotated[float, "millimetres"]])
def test_a_limit_without_a_unit_is_refused(kind):
    limits = dataclass(frozen=True)(type("Bare", (), {"__annotations__": {"max_step_mm": kind}}))
    with pytest.raises(ContractError, match="expected a kind such as Millimetres"):
        limit_fields(limits)


def test_no_limit_of_a_rule_is_called_limit_and_none_has_a_unit_in_its_key():
    keys = {key for rule in RULES.values() for key in rule.limit_fields}
    assert not keys & {"limit", "least", "most", "bands", "value"}
    assert not [
        key
        for key in keys
        if key.endswith(("_mm", "_m", "_days", "_months", "_min", "_c")) and key != "max_cores_per_100_m"
    ]


@pytest.mark.parametrize(
    ("written", "unit", "value"),
    [
        ("300 mm", "mm", 300.0),
        ("12 in", "mm", 304.8),
        ("1.5 m", "m", 1.5),
        ("5 year", "month", 60.0),
        ("1.5 year", "month", 18.0),
        ("80 %", "%", 0.8),
        ("2", "", 2.0),
        ("0.10 L/kg", "L/kg", 0.1),
        ("10 working days", "working day", 10.0),
    ],
)
def test_a_limit_is_read_in_the_unit_that_the_rule_wants(written, unit, value):
    assert read_limit(written, _FIELDS[unit], "p") == pytest.approx(value)


def test_a_date_is_a_date_and_no_instant():
    assert read_limit(dt.date(1990, 1, 1), _FIELDS["date"], "p") == pd.Timestamp("1990-01-01")
    for wrong in (dt.datetime(1990, 1, 1, 12), "1990-01-01", 1990):
        with pytest.raises(SettingsError, match=r"^p: found .*, expected a date such as 1990-01-01"):
            read_limit(wrong, _FIELDS["date"], "p")


@pytest.mark.parametrize(
    ("written", "unit", "said"),
    [
        ("3 kg", "mm", "p: found '3 kg', expected a length with its unit"),
        ("3", "mm", "p: found '3', expected a length"),
        (3, "mm", "p: found 3, expected a length"),
        ("180 day", "month", "expected a number of months or years"),
        ("10 day", "working day", "expected a number of working days"),
        ("12 mm", "bands", "expected pairs of width and limit, rising"),
        ([["400 mm", "10 mm"]], "bands", "expected pairs of width and limit"),
        ([["400 mm"], ["above", "1 mm"]], "bands", "expected pairs of width and limit"),
        ([["500 mm", "1 mm"], ["400 mm", "2 mm"], ["above", "3 mm"]], "bands", "rising"),
        ([["500 mm", "1 mm"], ["500 mm", "2 mm"], ["above", "3 mm"]], "bands", "rising"),
        ([["500 kg", "1 mm"], ["above", "3 mm"]], "bands", "found '500 kg', expected a length"),
        ([], "bands", "expected pairs of width and limit"),
        (
            [["0 mm", "1 mm"], ["above", "3 mm"]],
            "bands",
            "found '0 mm', expected above 0 mm and at most 10 m. Correct it.",
        ),
        ([["above", "-3 mm"]], "bands", "found '-3 mm', expected at least 0 mm and at most 1 m. Correct it."),
        (dt.date(1, 1, 1), "date", "found 0001-01-01, expected a date from 1900-01-01 to 2199-12-31. Correct it."),
        ("-1 mm", "mm", "found '-1 mm', expected at least 0 mm and at most 10 m. Correct it."),
        ("1e99 m", "m", "found '1e99 m', expected at least 0 m and at most 1 km. Correct it."),
        ("-5 day", "day", "found '-5 day', expected at least 0 day and at most 36500 day. Correct it."),
        ("3000000 day", "day", "found '3000000 day', expected at least 0 day and at most 36500 day. Correct it."),
        ("-1 working day", "working day", "expected at least 0 working day and at most 2600 working day. Correct it."),
        ("2.5 month", "month", "found '2.5 month', expected whole months. Correct it."),
        ("101 year", "month", "found '101 year', expected at least 0 month and at most 100 year. Correct it."),
        ("-1 min", "min", "found '-1 min', expected at least 0 min and at most 30 day. Correct it."),
        ("-300 degC", "degC", "found '-300 degC', expected at least -60 degC and at most 100 degC. Correct it."),
        ("0 L/kg", "L/kg", "found '0 L/kg', expected above 0 L/kg and at most 2 L/kg. Correct it."),
        ("101 %", "%", "found '101 %', expected at least 0 % and at most 100 %. Correct it."),
        ("-1", "", "found '-1', expected at least 0 and at most 1000000. Correct it."),
    ],
)
def test_a_wrong_limit_is_refused_in_words(written, unit, said):
    with pytest.raises(SettingsError, match=r"^p: ") as error:
        read_limit(written, _FIELDS[unit], "p")
    assert said in str(error.value)


def test_more_than_the_whole_is_possible_only_where_the_kind_says_so():
    field = limit_fields(GroutLongLimits)["max_share"]
    assert read_limit("200 %", field, "p") == pytest.approx(2)
    with pytest.raises(SettingsError, match=r"^p: found '1001 %', expected at least 0 % and at most 1000 %"):
        read_limit("1001 %", field, "p")


def test_a_diameter_of_zero_is_no_diameter():
    with pytest.raises(SettingsError, match=r"^p: found '0 mm', expected above 0 mm and at most 10 m"):
        read_limit("0 mm", limit_fields(DiameterLimits)["max_diameter"], "p")


def test_a_limit_by_width_may_mix_units_and_may_have_no_bands():
    assert read_limit(_WRITTEN, _FIELDS["bands"], "p") == _BANDS
    assert read_limit([["above", "5 mm"]], _FIELDS["bands"], "p") == Bands((), (5.0,))


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("30 day", "30 days"),
        ("1 day", "1 day"),
        ("10 working day", "10 working days"),
        ("6 month", "6 months"),
        ("5 years", "5 years"),
        ("300 mm", "300 mm"),
        ("40 degF", "40 °F"),
        ("0 degC", "0 °C"),
        ("80 %", "80 %"),
        ("2", "2"),
        ("30 min", "30 min"),
        (dt.date(1990, 1, 1), "1990-01-01"),
        (_WRITTEN, "up to 400 mm: 10 mm; up to 20 in: 12 mm; above: 14 mm"),
    ],
)
def test_a_limit_reads_as_people_write_it(written, said):
    assert limit_in_words(written) == said


def test_a_limit_that_varies_is_a_column_and_the_last_one_that_applies_is_used():
    index = pd.Index([3, 1, 7])
    first = vary_limit(5.0, pd.Series([True, False, False], index), 3.0)
    assert first.to_dict() == {3: 3.0, 1: 5.0, 7: 5.0}
    assert vary_limit(first, pd.Series([True, True, False], index), 4.0).to_dict() == {3: 4.0, 1: 4.0, 7: 5.0}


def test_a_limit_by_width_may_vary_too():
    other = Bands((), (2.0,))
    column = vary_limit(_BANDS, pd.Series([True, False]), other)
    assert column.tolist() == [other, _BANDS]
    assert widths_limit(column, pd.Series([450.0, 450.0])).tolist() == [2.0, 12.0]


@pytest.mark.parametrize(
    ("width_mm", "limit_mm"), [(0.0, 10), (400.0, 10), (400.1, 12), (508.0, 12), (508.1, 14), (9e9, 14)]
)
def test_a_width_at_the_end_of_a_band_belongs_to_it(width_mm, limit_mm):
    assert widths_limit(_BANDS, pd.Series([width_mm], [5])).to_dict() == {5: limit_mm}


@given(st.lists(st.floats(0, 1000), min_size=1, max_size=6))
@settings(max_examples=30, deadline=None)
def test_one_limit_for_all_and_a_column_of_it_are_the_same(widths):
    width = pd.Series(widths)
    column = vary_limit(_BANDS, pd.Series(data=False, index=width.index), Bands((), (1.0,)))
    assert widths_limit(column, width).tolist() == widths_limit(_BANDS, width).tolist()


@pytest.mark.parametrize(
    ("day", "months", "later"),
    [
        ("2025-08-31", 6, "2026-02-28"),
        ("2024-02-29", 12, "2025-02-28"),
        ("2024-02-29", 48, "2028-02-29"),
        ("2026-12-31", -3, "2026-09-30"),
        ("2026-03-30", 6, "2026-09-30"),
        ("9998-12-31", 24, "9999-12-31"),
    ],
)
def test_months_are_counted_on_the_calendar(day, months, later):
    days = pd.Series([pd.Timestamp(day)])
    assert months_after(days, float(months))[0] == pd.Timestamp(later)
    assert months_after(days, pd.Series([float(months)]))[0] == pd.Timestamp(later)


def test_each_core_may_have_a_number_of_months_of_its_own_and_no_date_stays_none():
    days = pd.Series(pd.to_datetime(["2026-01-31", "2026-01-31", None]), [4, 5, 6])
    later = months_after(days, pd.Series([1.0, 2.0, 1.0], [4, 5, 6]))
    assert later.dt.strftime("%Y-%m-%d").tolist()[:2] == ["2026-02-28", "2026-03-31"]
    assert pd.isna(later[6])
