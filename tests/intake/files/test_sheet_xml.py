"""Facts of a sheet that its XML holds, wherever the pieces that it is read in are cut."""

import zipfile

import pytest
import xlsxwriter

from pipeline.intake.files import sheet_xml
from pipeline.intake.files.sheet_xml import counts_from_1904, scan_sheet


def _write(path):
    with xlsxwriter.Workbook(str(path)) as book:
        book.add_worksheet("First").write(0, 0, "x")
        sheet = book.add_worksheet("Second")
        for row in range(40):
            sheet.write_row(row, 0, [row, "text", 1.5])
        sheet.write_formula(3, 3, "=A1<B1", None, "#N/A")
        sheet.write_formula(4, 3, "=A1&B1", None, "")
        sheet.write_formula(5, 3, "=A1", None, 7)
        sheet.write_number(6, 60, 1)
        sheet.set_row(7, None, None, {"hidden": True})
        sheet.set_column(1, 2, None, None, {"hidden": True})
        # hidden behind the last cell
        sheet.set_column(70, 16_000, None, None, {"hidden": True})


# 60 is in the middle of many cells; a megabyte takes the sheet in one piece
@pytest.mark.parametrize("piece", [60, 500, 1 << 20])
def test_facts_do_not_depend_on_where_pieces_are_cut(tmp_path, monkeypatch, piece):
    monkeypatch.setattr(sheet_xml, "_CHUNK", piece)
    monkeypatch.setattr(sheet_xml, "_read_small", lambda archive, name: archive.read(name))
    _write(tmp_path / "a.xlsx")
    facts = scan_sheet(tmp_path / "a.xlsx", 1)
    assert sorted(facts.replaced) == [(4, 4, "#N/A"), (5, 4, "=A1&B1")]
    assert facts.unstored == ["D5"]
    assert (facts.hidden_rows, facts.hidden_columns) == (1, 2)
    # column BI is the 61st
    assert (facts.last_row, facts.last_column, facts.is_certain) == (99_999, 61, True)


def test_an_ordinary_sheet_needs_no_closer_look(tmp_path, monkeypatch):
    monkeypatch.setattr(sheet_xml, "_CELL", None)
    _write(tmp_path / "a.xlsx")
    facts = scan_sheet(tmp_path / "a.xlsx", 0)
    assert (facts.last_row, facts.last_column, facts.replaced, facts.is_certain) == (99_999, 52, [], True)


def test_a_sheet_that_is_not_there_has_no_facts(tmp_path):
    _write(tmp_path / "a.xlsx")
    assert scan_sheet(tmp_path / "a.xlsx", 2) is None
    with zipfile.ZipFile(tmp_path / "b.xlsx", "w") as archive:
        archive.writestr("a.txt", "x")
    assert scan_sheet(tmp_path / "b.xlsx", 0) is None
    assert not counts_from_1904(tmp_path / "b.xlsx")
