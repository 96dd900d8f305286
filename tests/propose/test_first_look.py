"""Sheet, delimiter and header row of a file, before any column is known."""

import pytest
import xlsxwriter

from pipeline.errors import InputError
from pipeline.propose.first_look import best_header, first_look
from pipeline.propose.header_words import header_words

_WORDS = header_words()["register"]
_HEAD = ["Core no", "Dia", "Depth", "Cut"]
_ROW = ["A-1", "450", "200", "2026-03-01"]


def test_the_header_is_the_row_that_names_most_columns():
    rows = [["Cores of 2026", ""], ["Depth", "see below"], _HEAD, _ROW]
    found = best_header(rows, _WORDS)
    assert (found.row, sorted(found.names)) == (2, sorted(_HEAD))


def test_a_row_of_numbers_and_dates_is_no_header():
    assert best_header([["A-1", "450", "done", "2026-03-01", "St"]], _WORDS).score == 0


@pytest.mark.parametrize("mark", [",", ";", "|", "\t"])
def test_the_delimiter_is_the_one_that_splits_the_header(tmp_path, mark):
    file = tmp_path / "a.txt"
    file.write_text(f"Cores, all of them; 2026\n\n{mark.join(_HEAD)}\n{mark.join(_ROW)}\n", "utf-8")
    look = first_look(file, "a.txt", _WORDS)
    assert look.delimiter == mark
    assert list(look.table.frame.columns) == _HEAD
    assert look.table.frame.iloc[0].tolist() == _ROW


def test_a_text_that_is_not_utf_8_is_said_to_be_windows_1252(tmp_path):
    file = tmp_path / "a.csv"
    file.write_bytes(b"Core no;Depth;\xd8\nA-1;200;450\n")
    look = first_look(file, "a.csv", _WORDS)
    assert look.encoding == "cp1252"
    assert list(look.table.frame.columns) == ["Core no", "Depth", "Ø"]


def _workbook(path, **sheets):
    with xlsxwriter.Workbook(path) as book:
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            for number, row in enumerate(rows):
                sheet.write_row(number, 0, row)
            if name == "old":
                sheet.hide()
    return path


def test_the_sheet_is_the_visible_one_that_names_most_columns(tmp_path):
    rates = [["Item", "Size", "Rate"], ["Core", "12 in", "310"]]
    file = _workbook(tmp_path / "a.xlsx", Rates=rates, old=[_HEAD, _ROW], Cores=[["Title"], [], _HEAD, _ROW])
    look = first_look(file, "a.xlsx", _WORDS)
    assert (look.sheet, look.others, look.candidates) == ("Cores", ["Rates"], [])
    assert list(look.table.frame.columns) == _HEAD


def test_sheets_with_the_same_columns_are_alike_and_come_in_the_order_of_the_workbook(tmp_path):
    file = _workbook(tmp_path / "a.xlsx", July=[_HEAD, _ROW], August=[[*_HEAD, "notes"], [*_ROW, "x"]])
    look = first_look(file, "a.xlsx", _WORDS)
    assert ([one.sheet for one in look.alike], look.candidates, look.others) == (["July", "August"], [], [])


def test_sheets_with_different_columns_that_could_be_registers_are_both_given(tmp_path):
    file = _workbook(tmp_path / "a.xlsx", North=[[*_HEAD, "permit no"], [*_ROW, "P1"]], South=[_HEAD, _ROW])
    look = first_look(file, "a.xlsx", _WORDS)
    assert (look.sheet, look.candidates, look.alike) == ("North", ["South"], [])


def test_a_file_without_a_header_is_refused_since_its_first_core_would_be_lost(tmp_path):
    file = tmp_path / "a.csv"
    file.write_text("A-1,450,200,2026-03-01\nA-2,450,200,2026-03-02\n", "utf-8")
    with pytest.raises(InputError, match=r"a\.csv: no header was found; the first row holds A-1, 450, 200"):
        first_look(file, "a.csv", _WORDS)


def test_a_header_in_another_language_is_the_first_filled_row_and_not_certain(tmp_path):
    file = tmp_path / "a.csv"
    file.write_text("Kern;Durchmesser;Tiefe\nA-1;450;200\n", "utf-8")
    look = first_look(file, "a.csv", _WORDS)
    assert not look.is_certain
    assert list(look.table.frame.columns) == ["Kern", "Durchmesser", "Tiefe"]


def test_an_empty_file_is_refused(tmp_path):
    (tmp_path / "a.csv").write_bytes(b"")
    with pytest.raises(InputError, match="the file is empty"):
        first_look(tmp_path / "a.csv", "a.csv", _WORDS)


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        first_look(tmp_path / "a.csv", "a.csv", _WORDS)
