"""Decisions last from one month to the next: filled in by a spreadsheet program, and in force until they end."""

import datetime as dt
import json

import pandas as pd
import pytest
import xlsxwriter
from python_calamine import CalamineWorkbook

from pipeline.commands.decide import write_decision_sheet
from pipeline.decide.awaiting import awaiting
from pipeline.publish.actions import actions_of
from pipeline.run import run_programme
from tests.small_town import write_town

_SECTION = '[decisions]\npath = "decisions.csv"\n'
# the last day of two decisions, and the day after it
_NEXT_MONTH = dt.date(2026, 10, 31)
_AFTER = dt.date(2026, 11, 1)


@pytest.fixture(scope="module")
def town(small_town):
    """The town's folder and its run of 30 September."""
    programme, run = small_town
    return programme.parent, run


@pytest.fixture(scope="module")
def sheet(town, tmp_path_factory):
    """What awaits a decision, as text."""
    path = write_decision_sheet(town[1].folder, tmp_path_factory.mktemp("sheet") / "decide.csv").path
    return pd.read_csv(path, dtype="str", keep_default_na=False, encoding="utf-8-sig")


@pytest.fixture(scope="module")
def decided(sheet, tmp_path_factory):
    """The folder of the next month: HV-0 accepted, HV-2 accepted and cut on another day since, HV-4 corrected."""
    folder = tmp_path_factory.mktemp("next")
    write_town(folder, _SECTION)
    text = (folder / "cores.csv").read_text("utf-8")
    lines = [line.replace("-08-01", "-07-01") if line.startswith("HV-2,") else line for line in text.split("\n")]
    (folder / "cores.csv").write_text("\n".join(lines), encoding="utf-8")
    rows = [
        _filled(sheet, "HV-0", decided_on="30/09/2026", until="31/10/2026"),
        _filled(sheet, "HV-2"),
        _filled(sheet, "HV-4", decision="correct", column="done", value="03/08/2026", until="31/10/2026"),
    ]
    _save(rows, folder)
    return folder


@pytest.fixture(scope="module")
def october(decided):
    return run_programme(decided / "programme.toml", decided / "out", _NEXT_MONTH)


@pytest.fixture(scope="module")
def november(decided):
    return run_programme(decided / "programme.toml", None, _AFTER)


def _filled(sheet, core, **cells):
    """Return the sheet's row of a core open too long, filled in."""
    row = sheet[sheet["core_id"].eq(core) & sheet["rule"].eq("open-too-long")]
    assert len(row) == 1
    return row.assign(**({"decision": "accept", "decided_by": "J. Okafor", "reason": "seen on site"} | cells))


def _save(rows, folder):
    """Save decisions as a spreadsheet program does: with semicolons and a byte order mark."""
    pd.concat(rows).to_csv(folder / "decisions.csv", sep=";", index=False, encoding="utf-8-sig")


def _standing(run, core):
    found = run.audit.findings
    one = found[found["core_id"].eq(core) & found["rule"].eq("open-too-long")]
    return tuple(one[["decision", "decision_standing"]].fillna("").iloc[0]) if len(one) else None


def test_the_sheet_has_every_finding_the_most_urgent_first(sheet):
    assert len(sheet) == 18
    assert sheet["urgency"].tolist() == ["overdue"] * 5 + ["record"] * 13
    assert sheet["decision"].eq("").all()


def test_an_accepted_finding_stays_in_every_table_and_changes_no_status(october, town):
    assert _standing(october, "HV-0") == ("accept", "holds")
    table = pd.read_csv(october.folder / "findings.csv", dtype="str", keep_default_na=False)
    row = table[table["core_id"].eq("HV-0") & table["rule"].eq("open-too-long")].iloc[0]
    assert row["decided_by":"decision_standing"].tolist() == [
        "J. Okafor", "2026-09-30", "2026-10-31", "seen on site", "holds",
    ]  # fmt: skip
    # HV-4 is corrected, and no longer open
    assert october.account["flagged"] == town[1].account["flagged"] - 1
    assert actions_of(october).accepted == 1


def test_the_finding_returns_the_day_after_the_last_day_and_says_so(november):
    assert _standing(november, "HV-0") == ("accept", "expired")
    sheet = awaiting(november.counted_findings.astype("str"), november.table)
    assert sheet.sheet.loc[sheet.sheet["core_id"].eq("HV-0"), "earlier_decision"].iloc[0] == (
        "accept by J. Okafor on 2026-09-30, until 2026-10-31 (seen on site): expired"
    )
    assert (sheet.returned, sheet.decided) == (3, 0)


def test_a_decision_holds_on_its_last_day_by_the_day_of_the_audit(october):
    assert october.as_of == october.inputs.entries.frame["until"].max().date()
    assert _standing(october, "HV-0") == ("accept", "holds")


def test_a_finding_whose_evidence_changed_returns(october):
    assert _standing(october, "HV-2") == ("accept", "evidence changed")
    assert any("its evidence changed" in notice for notice in october.inputs.notices)


def test_a_correction_replaces_a_cell_for_the_audit_and_is_listed_with_the_original(october, november):
    assert _standing(october, "HV-4") is None
    table = pd.read_csv(october.folder / "cores.csv", dtype="str", keep_default_na=False).set_index("core_id")
    # what was understood is the corrected cell, and the register's own column is as it was read
    assert table.loc["HV-4", ["reinstated_at", "done"]].tolist() == ["2026-08-03", ""]
    listed = pd.read_csv(october.folder / "corrections.csv", dtype="str", keep_default_na=False)
    assert listed[["row", "core_id", "column", "original", "corrected", "standing"]].to_numpy().tolist() == [
        ["5", "HV-4", "done", "", "2026-08-03", "holds"]
    ]
    # once it has expired, the register counts again
    assert _standing(november, "HV-4") == ("correct", "expired")
    assert november.decided.corrections["standing"].tolist() == ["expired"]


def test_the_report_of_decisions_has_every_entry(october):
    report = pd.read_csv(october.folder / "decisions_report.csv", dtype="str", keep_default_na=False)
    assert report[["line", "core_id", "findings", "cells", "standing"]].to_numpy().tolist() == [
        ["2", "HV-0", "1", "0", "holds"],
        ["3", "HV-2", "1", "0", "evidence changed"],
        ["4", "HV-4", "0", "1", "holds"],
    ]


def test_a_hazard_cannot_be_accepted_without_an_end(tmp_path, sheet):
    _save([_filled(sheet, "HV-0"), _filled(sheet, "HV-2", until="2026-12-31")], tmp_path)
    path = write_town(tmp_path, _SECTION + '[catalogue.rules.open-too-long]\nurgency = "hazard"\n')
    run = run_programme(path, None, _NEXT_MONTH)
    assert _standing(run, "HV-0") == ("", "")
    assert _standing(run, "HV-2") == ("accept", "holds")
    assert run.decided.report["standing"].tolist() == ["does not hold", "holds"]
    assert run.decided.report["problem"].iloc[0] == "a hazard cannot be accepted without an end: enter until"


def test_the_record_lists_the_decisions_among_the_inputs_and_the_same_decisions_give_the_same_bytes(decided, october):
    before = {file.name: file.read_bytes() for file in october.folder.iterdir() if file.suffix in {".csv", ".html"}}
    record = json.loads((october.folder / "run.json").read_text("utf-8"))
    assert [file["path"] for file in record["inputs"] if file["section"] == "decisions"] == ["decisions.csv"]
    again = run_programme(decided / "programme.toml", decided / "again", _NEXT_MONTH)
    assert {name: (again.folder / name).read_bytes() for name in before} == before
    assert json.loads((again.folder / "run.json").read_text("utf-8"))["run"] == record["run"]


def test_decisions_survive_a_workbook_written_here_and_saved_elsewhere(town, tmp_path):
    path = write_decision_sheet(town[1].folder, tmp_path / "decide.xlsx").path
    rows = CalamineWorkbook.from_path(path).get_sheet_by_name("Decisions").to_python()
    names = rows[0]
    chosen = next(row for row in rows if row[2] == "HV-2" and row[6] == "open-too-long")
    cells = {"decision": "defer", "decided_by": "J. Okafor", "reason": "next visit"}
    chosen = [cells.get(name, cell) for name, cell in zip(names, chosen)]
    with xlsxwriter.Workbook(str(tmp_path / "saved.xlsx")) as book:
        page = book.add_worksheet("Sheet1")
        for number, row in enumerate([names, *rows[1:3], chosen]):
            page.write_row(number, 0, row)
        # the program keeps a date as a number
        page.write_datetime(
            3, names.index("until"), dt.datetime(2026, 12, 31), book.add_format({"num_format": "d.m.yy"})
        )
    programme = write_town(tmp_path, '[decisions]\npath = "saved.xlsx"\n')
    after = run_programme(programme, None, dt.date(2026, 12, 31))
    assert _standing(after, "HV-2") == ("defer", "holds")
    assert after.inputs.entries.skipped == 2
