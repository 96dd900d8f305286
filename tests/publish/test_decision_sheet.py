"""The sheet of what awaits a decision, for any spreadsheet program."""

import datetime as dt
import zipfile

import pandas as pd
import pytest

from pipeline.contracts.decisions import DECISION_SHEET
from pipeline.errors import OutputError, SettingsError
from pipeline.intake.decisions import read_decisions
from pipeline.programme.decisions import Decisions
from pipeline.publish.decision_sheet import publish_decision_sheet

_DAY = dt.date(2026, 9, 30)
_SHEET = pd.DataFrame(
    [
        dict.fromkeys(DECISION_SHEET, "")
        | {"fingerprint": "f1", "evidence_mark": "m1", "core_id": "=1+1", "street": "Ære"}
    ]
)


def _write(path, sheet=_SHEET):
    publish_decision_sheet(sheet, "Quay 2026", _DAY, path)
    return path


def test_the_text_has_the_mark_by_which_spreadsheet_programs_know_its_encoding(tmp_path):
    raw = _write(tmp_path / "new" / "decide.csv").read_bytes()
    assert raw.startswith(b"\xef\xbb\xbf")
    assert "Ære" in raw.decode("utf-8-sig")
    # no program runs it as a formula
    assert "'=1+1" in raw.decode("utf-8-sig")


def test_a_workbook_offers_the_decisions_to_choose_from_and_explains_itself(tmp_path):
    with zipfile.ZipFile(_write(tmp_path / "decide.xlsx")) as book:
        page = book.read("xl/worksheets/sheet1.xml").decode()
        assert "accept,correct,dispute,defer" in page
        # column M, the first to be filled in
        assert 'sqref="N2"' in page
        assert "A hazard can only be accepted with a last day." in book.read("xl/sharedStrings.xml").decode()


@pytest.mark.parametrize("name", ["decide.csv", "decide.xlsx"])
def test_a_sheet_without_a_decision_is_read_back_as_no_entry(tmp_path, name):
    _write(tmp_path / name)
    read = read_decisions(Decisions(path=name), tmp_path, _DAY, day_first=None)
    assert (len(read.frame), read.skipped) == (0, 1)


@pytest.mark.parametrize("name", ["decide.csv", "decide.xlsx"])
def test_a_filled_in_sheet_is_read_back_as_it_was(tmp_path, name):
    _write(tmp_path / name, _SHEET.assign(decision="accept", decided_by="Jo", reason="seen", until="2026-12-31"))
    entry = read_decisions(Decisions(path=name), tmp_path, _DAY, day_first=None).frame.iloc[0]
    assert entry[["fingerprint", "evidence_mark", "core_id", "street", "standing"]].tolist() == [
        "f1", "m1", "=1+1", "Ære", "holds",
    ]  # fmt: skip
    assert entry["until"] == pd.Timestamp("2026-12-31")


@pytest.mark.parametrize("name", ["decide.csv", "decide.xlsx"])
def test_the_same_sheet_may_be_written_again_and_another_is_not_replaced(tmp_path, name):
    path = _write(tmp_path / name)
    before = path.read_bytes()
    assert _write(path).read_bytes() == before
    with pytest.raises(OutputError, match=rf"{name}: already exists and is different.*--out"):
        _write(path, _SHEET.assign(decision="accept"))
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == [name]


def test_another_format_is_refused(tmp_path):
    with pytest.raises(SettingsError, match=r"decide\.pdf: expected a file that ends in \.csv or \.xlsx"):
        _write(tmp_path / "decide.pdf")
