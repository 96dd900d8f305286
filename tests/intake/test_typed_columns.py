"""Columns of a register by their kind, and what stops a run or is only reported."""

import numpy as np
import pandas as pd
import pytest

from pipeline.contracts import REGISTER_COLUMNS
from pipeline.errors import InputError
from pipeline.intake.files.tables import RawTable
from pipeline.intake.typed_columns import typed_column, typed_columns
from pipeline.programme.settings import Cores

_COLUMNS = {column.name: column for column in REGISTER_COLUMNS}


def _table(header_units=None, **cells):
    frame = pd.DataFrame({name: pd.Series(column, dtype="str") for name, column in cells.items()})
    return RawTable(frame, np.arange(len(frame)), len(frame), "cores.csv", header_units=header_units or {})


def _typed(name, source, cells, header_units=None, **settings):
    table = _table(header_units, **{source: cells})
    return typed_column(table, _COLUMNS[name], source, Cores(path="cores.csv", **settings), "UTC")


def test_a_column_that_the_file_lacks_is_missing_without_a_unit_or_a_notice():
    typed = typed_column(_table(a=["1", "2"]), _COLUMNS["water_l"], None, Cores(path="cores.csv"), "UTC")
    assert typed.columns["water_l"].isna().tolist() == [True, True]
    assert (typed.unit, typed.unit_from, typed.notices) == (None, None, [])


def test_bare_numbers_are_in_the_unit_of_the_header():
    typed = _typed("air_temperature_c", "Temp °F", ["212", "32", "20 C"])
    assert typed.columns["air_temperature_c"].tolist() == pytest.approx([100, 0, 20])
    assert (typed.unit, typed.unit_from) == ("degF", "header")


def test_bare_numbers_are_in_the_unit_of_the_row_of_units():
    typed = _typed("depth_mm", "Depth", ["6", "8 cm"], {"Depth": "in"})
    assert typed.columns["depth_mm"].tolist() == pytest.approx([152.4, 80])
    assert (typed.unit, typed.unit_from) == ("in", "units row")


def test_the_error_for_a_missing_unit_proposes_none_that_the_header_excludes():
    with pytest.raises(InputError) as error:
        _typed("water_l", "Water (gal)", ["2", "3"], columns={"water": "Water (gal)"})
    assert str(error.value) == (
        "cores.csv: column 'Water (gal)' for `water` has bare numbers such as '2', and its header says \"gal\", which "
        'may be us gal or imp gal. Set cores.units.water to "us gal" or "imp gal".'
    )


def test_a_unit_that_contradicts_the_header_stops_the_run_even_for_a_column_that_is_not_mapped():
    with pytest.raises(InputError, match=r"for `bedding` has the unit \"mm\" in its header, but the programme file"):
        _typed("bedding_mm", "bedding_mm", ["25"], units={"bedding": "in"})


def test_most_cells_without_a_unit_are_a_missing_setting_and_fewer_are_matters_of_their_rows():
    mapped = {"columns": {"depth": "Depth"}}
    with pytest.raises(InputError, match="bare numbers such as '6'"):
        _typed("depth_mm", "Depth", ["6", "8", "6 in"], **mapped)
    few = _typed("depth_mm", "Depth", ["6", "8 in", None], **mapped)
    assert few.columns["depth_mm_problem"].fillna("").tolist() == ["no unit", "", ""]
    assert few.unit_from == "cells"


def test_cells_in_gallons_without_a_country_ask_which():
    with pytest.raises(InputError) as error:
        _typed("water_l", "Water", ["2 gal", "3 gal"], columns={"water": "Water"})
    assert str(error.value) == (
        "cores.csv: column 'Water' for `water` has cells such as '2 gal', and a gallon may be a US or an imperial "
        'gallon. Set cores.units.water to "us gal" or "imp gal".'
    )
    read = _typed("water_l", "Water", ["2 gal", "3 gal"], units={"water": "us gal"})
    assert read.columns["water_l"].tolist() == pytest.approx([7.570823568, 11.356235352])


def test_commas_that_may_mean_thousands_or_decimals_are_reported_with_the_setting():
    typed = _typed("flush_mm", "flush_mm", ["1,250", "2,125", "3"])
    (notice,) = typed.notices
    assert notice == (
        "cores.csv: column 'flush_mm' has 2 numbers not read, such as '1,250': the comma may mean thousands or decimals. "
        'Set cores.decimal = "." or ",".'
    )


@pytest.mark.parametrize("name", ["bags_used", "water_l", "bedding_mm", "depression_mm", "cover_m"])
def test_a_number_below_zero_that_cannot_be_is_not_read_and_says_so(name):
    column = _COLUMNS[name]
    typed = _typed(name, name, ["-2", "0", "2", None], units={column.short: column.unit} if column.unit else {})
    assert typed.columns[name].isna().tolist() == [True, False, False, True]
    assert typed.columns[column.problem_name].fillna("").tolist() == ["negative", "", "", ""]
    assert typed.columns[column.text_name].iloc[0] == "-2"


@pytest.mark.parametrize("name", ["flush_mm", "air_temperature_c"])
def test_a_step_downwards_and_frost_are_read(name):
    column = _COLUMNS[name]
    typed = _typed(name, name, ["-2"], units={column.short: column.unit})
    assert typed.columns[name].tolist() == [-2.0]
    assert typed.columns[column.problem_name].isna().all()


def test_the_dates_of_one_column_show_the_order_of_another():
    table = _table(opened_on=["03/04/2026"] * 3, plated_on=["25/03/2026", "26/03/2026", "27/03/2026"])
    found = {column.name: column.name if column.name in table.frame else None for column in REGISTER_COLUMNS}
    section = Cores(path="cores.csv", columns={"opened_on": "opened_on", "plated_on": "plated_on"})
    with pytest.raises(InputError, match=r"column 'opened_on' .* 3 dates of the register can only be day first"):
        typed_columns(table, found, section, "UTC")
    with pytest.raises(InputError, match=r"column 'plated_on' .* cores\.day_first = false"):
        typed_columns(table, found, section.model_copy(update={"day_first": False}), "UTC")
    typed = typed_columns(table, found, section.model_copy(update={"day_first": True}), "UTC")
    assert list(typed) == [column.name for column in REGISTER_COLUMNS]
    assert typed["opened_on"].columns["opened_on"].dt.month.tolist() == [4, 4, 4]
    assert typed["opened_on"].evidence.order.either == 3
    assert typed["crew"].evidence is None


def test_a_column_that_only_happens_to_have_the_name_is_ignored_and_reported():
    typed = _typed("opened_on", "opened_on", ["46082", "46083"])
    assert typed.columns["opened_on"].isna().all()
    assert typed.columns["opened_on_problem"].isna().all()
    assert typed.notices[0].startswith(
        "cores.csv: column 'opened_on' has dates such as '46082', which may be the serial number of a spreadsheet; it is "
        "ignored. If that number"
    )
