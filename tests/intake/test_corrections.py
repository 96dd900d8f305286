"""Corrections of a register's cells: used for the audit, the original beside them."""

import numpy as np
import pandas as pd
import pytest

from pipeline.intake.corrections import with_corrections
from pipeline.intake.files.tables import RawTable
from pipeline.programme.settings import Cores
from tests.decide.frames import entries, entry

_FOUND = {"core_id": "ID", "diameter_mm": "dia", "opened_on": "cut", "street": None}


def _table():
    frame = pd.DataFrame(
        {"ID": ["C 1", "C2", "C2"], "dia": ["450", "45", "46"], "cut": ["2026-03-04"] * 3, "E": ["1", "2", "3"]},
        dtype="str",
    )
    return RawTable(frame, np.array([1, 2, 4]), 4, "cores.csv")


def _correct(*changes, **keys):
    rows = [
        entry(decision="correct", **change) | {"day_first": change.get("day_first"), "standing": change.get("standing")}
        for change in changes
    ]
    section = Cores(path="cores.csv", name="works", x="E", y="N", **keys)
    return with_corrections(_table(), _FOUND, section, entries(*rows))


def test_the_audit_uses_the_corrected_cell_and_the_table_stays_as_it_was():
    table, log = _correct({"core_id": "c1", "column": "diameter", "value": "460"})
    assert table.frame["dia"].tolist() == ["460", "45", "46"]
    assert log.to_numpy().tolist() == [[0, 1, "C 1", "works", "dia", "450", "460", "holds"]]
    assert _table().frame["dia"].tolist() == ["450", "45", "46"]


@pytest.mark.parametrize("column", ["dia", " DIA", "diameter", "diameter_mm"])
def test_a_column_is_named_by_its_header_or_as_in_a_programme_file(column):
    assert _correct({"core_id": "C1", "column": column, "value": "1"})[0].frame["dia"].iloc[0] == "1"


def test_ids_and_positions_can_be_corrected_too():
    table, _ = _correct(
        {"core_id": "C1", "column": "x", "value": "9"}, {"core_id": "C1", "column": "ID", "value": "C9"}
    )
    assert table.frame.loc[0, ["ID", "E"]].tolist() == ["C9", "9"]


def test_all_rows_of_a_core_are_corrected_or_those_that_hold_the_original():
    assert _correct({"core_id": "C2", "column": "cut", "value": "n/a"})[0].frame["cut"].tolist()[1:] == ["n/a"] * 2
    table, log = _correct({"core_id": "C2", "column": "dia", "value": "450", "original": "46"})
    assert table.frame["dia"].tolist() == ["450", "45", "450"]
    assert log["row"].tolist() == [4]


@pytest.mark.parametrize("change", [{"column": "dia"}, {"column": "ID"}, {"column": "ID", "original": "C2"}])
def test_cores_that_share_an_id_are_not_overwritten_by_one_correction(change):
    table, log = _correct({"core_id": "C2", "value": "9"} | change)
    assert table.frame.equals(_table().frame)
    assert log["standing"].tolist() == ["several rows"] * 2


def test_a_date_that_the_register_would_read_as_another_day_is_not_guessed():
    change = {"core_id": "C1", "column": "cut", "day_first": True}
    assert _correct(change | {"value": "3/1/2026"}, day_first=False)[1]["standing"].tolist() == ["not a date"]
    assert _correct(change | {"value": "3/1/2026"}, day_first=True)[1]["corrected"].tolist() == ["2026-01-03"]
    assert _correct(change | {"value": "2026-01-03"}, day_first=False)[1]["corrected"].tolist() == ["2026-01-03"]
    assert _correct(change | {"value": "3/3/2026"}, day_first=False)[1]["corrected"].tolist() == ["2026-03-03"]
    assert _correct(change | {"value": "30/9/2026"}, day_first=False)[1]["corrected"].tolist() == ["2026-09-30"]


def test_a_correction_whose_original_changed_does_not_hold():
    table, log = _correct({"core_id": "C2", "column": "dia", "value": "450", "original": "44"})
    assert table.frame["dia"].tolist() == ["450", "45", "46"]
    assert log["standing"].tolist() == ["evidence changed"] * 2


@pytest.mark.parametrize(
    ("column", "original", "day_first"), [("dia", "450.0", None), ("cut", "4/3/2026", True), ("cut", "3/4/2026", False)]
)
def test_an_original_that_a_spreadsheet_program_rewrote_is_the_same(column, original, day_first):
    change = {"core_id": "C1", "column": column, "value": "n/a", "original": original, "day_first": day_first}
    assert _correct(change)[1]["standing"].tolist() == ["holds"]


@pytest.mark.parametrize(
    ("value", "day_first", "text"),
    [("30/09/2026", True, "2026-09-30"), ("46295", None, "2026-09-30"), ("30.9.2026 14:05", True, "2026-09-30 14:05:00"),
     ("2026-09-30T14:05+02:00", None, "2026-09-30T14:05+02:00"), ("n/a", None, "n/a")],
)  # fmt: skip
def test_a_date_is_given_to_the_register_in_a_form_that_it_can_read(value, day_first, text):
    table, _ = _correct({"core_id": "C1", "column": "cut", "value": value, "day_first": day_first})
    assert table.frame["cut"].iloc[0] == text


def test_a_value_that_is_no_date_does_not_replace_one():
    table, log = _correct({"core_id": "C1", "column": "cut", "value": "spring"})
    assert table.frame["cut"].iloc[0] == "2026-03-04"
    assert log[["corrected", "standing"]].to_numpy().tolist() == [["spring", "not a date"]]


def test_a_correction_that_expired_or_is_of_another_register_or_column_is_not_applied():
    change = {"core_id": "C1", "column": "dia", "value": "1"}
    assert _correct(change | {"standing": "expired"})[1]["standing"].tolist() == ["expired"]
    assert len(_correct(change | {"standing": "does not hold"})[1]) == 0
    assert len(_correct(change | {"register": "paving"})[1]) == 0
    assert len(_correct(change | {"register": "Works"})[1]) == 1
    table, log = _correct(change | {"column": "colour"})
    assert log[["column", "standing"]].to_numpy().tolist() == [["colour", "no such column"]]
    assert table.frame.equals(_table().frame)


def test_of_two_corrections_of_a_cell_the_one_decided_last_is_applied():
    first = {"core_id": "C1", "column": "dia", "value": "1", "decided_on": "2026-09-09"}
    table, log = _correct(first, {"core_id": "C1", "column": "diameter", "value": "2"})
    assert table.frame["dia"].iloc[0] == "1"
    assert log["standing"].tolist() == ["holds", "superseded"]


def test_a_corrected_cell_of_a_workbook_is_text():
    table = _table()
    table.stored_as_number = pd.DataFrame(True, table.frame.index, table.frame.columns)
    change = entry(decision="correct", core_id="C1", column="dia", value="460")
    corrected, _ = with_corrections(table, _FOUND, Cores(path="cores.csv"), entries(change))
    assert corrected.stored_as_number["dia"].tolist() == [False, True, True]
    assert table.stored_as_number.all(axis=None)
