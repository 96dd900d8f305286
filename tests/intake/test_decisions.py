"""Decisions read back from whatever program saved them."""

import datetime as dt

import pandas as pd
import pytest
import xlsxwriter

from pipeline.errors import InputError
from pipeline.intake.decisions import NO_ENTRIES, read_decisions
from pipeline.programme.decisions import Decisions

_DAY = dt.date(2026, 9, 30)
_HEAD = "fingerprint,evidence_mark,decision,decided_by,reason,decided_on,until\n"


def _read(folder, text, day=_DAY, day_first=None, encoding="utf-8", **keys):
    (folder / "decisions.csv").write_text(text, encoding=encoding)
    return read_decisions(Decisions(path="decisions.csv", **keys), folder, day, day_first=day_first)


def _one(folder, line, **keys):
    return _read(folder, _HEAD + line + "\n", **keys).frame.iloc[0]


def test_a_programme_without_decisions_has_none(tmp_path):
    assert read_decisions(None, tmp_path, _DAY, day_first=None) is NO_ENTRIES


def test_a_sheet_as_it_was_written_is_read_and_rows_without_a_decision_are_counted(tmp_path):
    read = _read(
        tmp_path, _HEAD + "Fa1,E1,accept,Jo,seen,2026-09-01,2026-12-31\nFa2,E2,,,,,\n\nFa3,E3,Defer,Jo,later,,\n"
    )
    assert read.frame[["line", "fingerprint", "decision", "standing"]].to_numpy().tolist() == [
        [2, "Fa1", "accept", "holds"],
        [5, "Fa3", "defer", "holds"],
    ]
    assert read.frame["until"].tolist()[0] == pd.Timestamp("2026-12-31")
    assert read.frame["problem"].isna().all()
    assert read.skipped == 1
    assert [(file.path, file.entries, file.rows) for file in read.files] == [("decisions.csv", 2, 3)]


def test_a_spreadsheet_program_may_rewrite_delimiter_encoding_header_and_dates(tmp_path):
    # semicolons, a byte order mark, dates its own way, one as the number of its day: 46387 is 31 December 2026
    text = "Fingerprint;Evidence mark; DECISION ;Decided by;Reason;Decided on;Until\nFa1;E1;Accept;Zoë;gesehen;30/09/2026;46387\n"
    entry = _read(tmp_path, text, encoding="utf-8-sig").frame.iloc[0]
    assert entry[["fingerprint", "evidence_mark", "decision", "decided_by"]].tolist() == ["Fa1", "E1", "accept", "Zoë"]
    assert [entry["decided_on"], entry["until"]] == [pd.Timestamp("2026-09-30"), pd.Timestamp("2026-12-31")]
    assert entry["standing"] == "holds"


def test_a_workbook_gives_the_same_entries(tmp_path):
    with xlsxwriter.Workbook(str(tmp_path / "decisions.xlsx")) as book:
        sheet = book.add_worksheet("Decisions")
        sheet.write_row(0, 0, _HEAD.strip().split(","))
        sheet.write_row(1, 0, ["Fa1", "E1", "accept", "Jo", "seen"])
        sheet.write_datetime(1, 5, dt.datetime(2026, 9, 1), book.add_format({"num_format": "dd/mm/yyyy"}))
        # a date whose format was lost
        sheet.write_number(1, 6, 46387)
    read = read_decisions(Decisions(path="decisions.xlsx"), tmp_path, _DAY, day_first=None)
    entry = read.frame.iloc[0]
    assert [entry["decided_on"], entry["until"]] == [pd.Timestamp("2026-09-01"), pd.Timestamp("2026-12-31")]
    assert (entry["fingerprint"], entry["line"], entry["standing"]) == ("Fa1", 2, "holds")


def test_several_files_are_read_in_their_order(tmp_path):
    for name in ("b", "a"):
        (tmp_path / f"{name}.csv").write_text(f"{_HEAD}F{name},E,accept,Jo,seen,,\n", encoding="utf-8")
    read = read_decisions(Decisions(path=["b.csv", "a.csv"]), tmp_path, _DAY, day_first=None)
    assert read.frame[["file", "line", "fingerprint"]].to_numpy().tolist() == [["b.csv", 2, "Fb"], ["a.csv", 2, "Fa"]]


@pytest.mark.parametrize(
    ("decided_on", "until", "standing"),
    [
        ("2026-09-30", "2026-09-30", "holds"),
        ("2026-09-01", "2026-09-29", "expired"),
        ("2026-10-01", "", "not yet in force"),
        ("", "", "holds"),
        ("soon", "2026-12-31", "expired"),
        ("2026-09-01", "31/02/2026", "expired"),
    ],
)
def test_an_entry_is_in_force_through_its_last_day_by_the_day_of_the_audit(tmp_path, decided_on, until, standing):
    assert _one(tmp_path, f"Fa1,E1,accept,Jo,seen,{decided_on},{until}")["standing"] == standing


def test_a_malformed_date_counts_as_expired_and_is_reported(tmp_path):
    entry = _one(tmp_path, "Fa1,E1,accept,Jo,seen,2026-09-01,end of term")
    assert entry["problem"] == 'until "end of term" is not a date such as 2026-09-30, so it counts as expired'


def test_the_dates_of_a_file_show_their_order_where_they_can(tmp_path):
    both = _HEAD + "Fa1,E1,accept,Jo,seen,03/04/2026,\nFa2,E1,accept,Jo,seen,30/09/2026,\n"
    april, march = pd.Timestamp("2026-04-03"), pd.Timestamp("2026-03-04")
    assert _read(tmp_path, both).frame["decided_on"].tolist()[0] == april
    # the program that saved the file has its own way, whatever the registers have
    read = _read(tmp_path, both, day_first=False)
    assert read.frame["decided_on"].tolist()[0] == april
    assert "Set decisions.day_first = true" in read.notices[0]
    alone = _HEAD + "Fa1,E1,accept,Jo,seen,03/04/2026,\n"
    assert _read(tmp_path, alone).frame["standing"].tolist() == ["expired"]
    assert _read(tmp_path, alone, day_first=True).frame["decided_on"].tolist() == [april]
    assert _read(tmp_path, alone, day_first=True, day=_DAY).notices == []
    (tmp_path / "decisions.csv").write_text(alone, encoding="utf-8")
    section = Decisions(path="decisions.csv", day_first=False)
    assert read_decisions(section, tmp_path, _DAY, day_first=True).frame["decided_on"].tolist() == [march]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("Fa1,E1,approve,Jo,seen,,", "the decision is not one of accept, correct, dispute, defer"),
        (",E1,accept,Jo,seen,,", "neither a finding (fingerprint) nor a rule"),
        ("Fa1,,accept,Jo,seen,,", "evidence_mark is empty"),
        ("Fa1,E1,accept,,seen,,", "decided_by is empty"),
        ("Fa1,E1,accept,Jo,,,", "reason is empty"),
        ("Fa1,E1,correct,Jo,seen,,", "a correction needs core_id"),
        ("Fa1,E1,accept,Jo,seen,,,,too many", "do not fit the header"),
    ],
)
def test_an_entry_that_lacks_something_is_reported_and_does_not_hold(tmp_path, line, words):
    entry = _one(tmp_path, line)
    assert entry["standing"] == "does not hold"
    assert words in entry["problem"]


@pytest.mark.parametrize(("cells", "words"), [("C1,,9", "needs column"), ("C1,cut,", "needs value; to empty the cell")])
def test_a_correction_names_a_core_a_column_and_a_value(tmp_path, cells, words):
    text = f"decision,decided_by,reason,core_id,column,value\ncorrect,Jo,seen,{cells}\n"
    assert words in _read(tmp_path, text).frame["problem"].iloc[0]


def test_a_rule_alone_is_enough_and_a_header_alone_holds_no_entry(tmp_path):
    read = _read(tmp_path, "rule,decision,decided_by,reason\nposition-rounded,accept,Jo,known\n")
    assert read.frame["standing"].tolist() == ["holds"]
    assert len(_read(tmp_path, _HEAD).frame) == 0


def test_text_that_was_protected_from_being_run_as_a_formula_is_read_as_it_was(tmp_path):
    read = _read(tmp_path, "core_id,column,value,decision,decided_by,reason\n'=P-1,permit,'=P-2,correct,Jo,typo\n")
    assert read.frame[["core_id", "value"]].iloc[0].tolist() == ["=P-1", "=P-2"]


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("decisions.csv", "a,b\n1,2\n", ["no column `decision`", "a, b", "kerfbook decide"]),
        ("decisions.csv", "", ["decisions.csv", "empty"]),
        ("decisions.pdf", "x", ["decisions.pdf", "not a file of decisions", ".xlsx", "decisions.path"]),
        ("decisions.xlsx", "x", ["decisions.xlsx"]),
    ],
)
def test_a_file_that_cannot_be_read_stops_the_run_in_words(tmp_path, name, text, words):
    (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_decisions(Decisions(path=name), tmp_path, _DAY, day_first=None)
    assert all(word in str(error.value) for word in words)
    with pytest.raises(InputError, match=r"no such file.*decisions\.path"):
        read_decisions(Decisions(path="other.csv"), tmp_path, _DAY, day_first=None)
