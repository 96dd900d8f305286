"""Registers as files: encodings, delimiters, odd rows, workbooks, conditions."""

import datetime as dt

import pandas as pd
import pytest
import xlsxwriter

from pipeline.errors import InputError, SettingsError
from pipeline.intake.files.layers import read_raw
from pipeline.programme.settings import Cores


def _csv(tmp_path, data, **settings):
    (tmp_path / "cores.csv").write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_raw(Cores(path="cores.csv", **settings), tmp_path, "cores", None)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_encoding_and_delimiter_are_found(tmp_path, encoding, delimiter):
    table = _csv(tmp_path, f"id{delimiter}straße\n001{delimiter}Höhe\n".encode(encoding))
    assert table.frame.to_dict("list") == {"id": ["001"], "straße": ["Höhe"]}


def test_a_legacy_encoding_is_read_and_said(tmp_path):
    table = _csv(tmp_path, "id,street\n1,Høyløkka\n".encode("cp1252"))
    assert table.frame["street"][0] == "Høyløkka"
    assert "Windows-1252" in table.notices[0]
    assert _csv(tmp_path, "id,s\n1,ж\n".encode("cp1251"), encoding="cp1251").frame["s"][0] == "ж"


def test_text_stays_text_and_only_the_empty_cell_is_missing(tmp_path):
    table = _csv(tmp_path, "id,a,b\n007,NA,\n1e5,null,x\n")
    assert table.frame["id"].tolist() == ["007", "1e5"]
    assert table.frame["a"].tolist() == ["NA", "null"]
    assert table.frame["b"].isna().tolist() == [True, False]


def test_rows_that_do_not_fit_stay_in_their_place_and_say_so(tmp_path):
    table = _csv(tmp_path, "id,a,b\n1,x,y\n2,x,y,z\n\n3,x\n4,x,y,,\n5,x,y\n")
    assert table.frame["id"].tolist() == ["1", "2", "3", "4", "5"]
    assert table.rows.tolist() == [1, 2, 3, 4, 5]
    said = table.ragged.fillna("").tolist()
    assert said == ["", "4 fields where the header has 3", "2 fields where the header has 3", "", ""]
    assert table.frame["b"].isna().tolist() == [False, False, True, False, False]


def test_an_inch_mark_in_an_unquoted_cell_is_only_an_inch_mark(tmp_path):
    table = _csv(tmp_path, 'id,dia,depth\n1,18",6"\n2,"17 1/2""",8"\n')
    assert table.frame["dia"].tolist() == ['18"', '17 1/2"']


def test_a_quotation_mark_never_closed_stops_the_run_for_it_swallows_rows(tmp_path):
    with pytest.raises(InputError, match="row 2, column 'a': a quotation mark opens a cell that spans 3 lines"):
        _csv(tmp_path, 'id,a,b\n1,x,y\n2,"x,y\n3,x,y\n4,x,y\n')


def test_a_cell_of_several_lines_is_one_cell(tmp_path):
    assert _csv(tmp_path, 'id,a,b\n1,"x\ny",z\n').frame["a"][0] == "x\ny"


def test_names_that_are_blank_or_taken_get_their_own(tmp_path):
    table = _csv(tmp_path, "id,ID,,x\n1,2,3,4\n")
    assert table.frame.columns.tolist() == ["id", "ID.2", "column 3", "x"]
    assert len(table.notices) == 2


def test_a_condition_selects_rows_and_keeps_their_numbers(tmp_path):
    table = _csv(tmp_path, "id,dia\n1,450\n2,90\n3,18 in\n4,1000\n", where="dia > 100 OR dia = '18 in'")
    assert table.frame["id"].tolist() == ["1", "3", "4"]
    assert table.rows.tolist() == [1, 3, 4]
    assert table.rows_in_file == 4


def test_a_condition_that_is_no_sql_or_leaves_nothing_is_refused(tmp_path):
    with pytest.raises(SettingsError, match=r"cores\.where: found 'diameter > 1'.*Its columns: id, dia"):
        _csv(tmp_path, "id,dia\n1,450\n", where="diameter > 1")
    with pytest.raises(InputError, match="selects no features; the file has 1"):
        _csv(tmp_path, "id,dia\n1,450\n", where="id = 9")


def test_a_workbook_is_read_as_people_see_it(tmp_path):
    with xlsxwriter.Workbook(str(tmp_path / "cores.xlsx")) as book:
        sheet = book.add_worksheet("First")
        sheet.write_row(0, 0, ["id", "dia", "cut", "lon", "flag"])
        sheet.write_row(1, 0, [7, 450])
        sheet.write_datetime(1, 2, dt.datetime(2026, 9, 30), book.add_format({"num_format": "yyyy-mm-dd"}))
        sheet.write_row(1, 3, [-82.2012, True])
        sheet.write_row(3, 0, ["A-8", "18 in", "", 0.5])
        book.add_worksheet("Second").write_row(0, 0, ["x"])
    table = read_raw(Cores(path="cores.xlsx"), tmp_path, "cores", None)
    assert table.frame["id"].tolist() == ["7", "A-8"]
    # the blank row between them counts
    assert table.rows.tolist() == [1, 3]
    assert table.frame["dia"].tolist() == ["450", "18 in"]
    assert table.frame["cut"][0].startswith("2026-09-30")
    assert table.frame["lon"].tolist() == ["-82.2012", "0.5"]
    with pytest.raises(InputError, match="no sheet 'Third'; the workbook has: First, Second"):
        read_raw(Cores(path="cores.xlsx", layer="Third"), tmp_path, "cores", None)


def test_a_parquet_table_is_read_as_text(tmp_path):
    pd.DataFrame({"id": [1, 2], "dia": [450.0, None]}).to_parquet(tmp_path / "cores.parquet")
    table = read_raw(Cores(path="cores.parquet"), tmp_path, "cores", None)
    assert table.frame["id"].tolist() == ["1", "2"]
    assert table.frame["dia"].fillna("").tolist() == ["450", ""]


def test_old_line_ends_a_line_for_spreadsheets_and_a_heading_of_two_lines_are_read(tmp_path):
    assert _csv(tmp_path, "id,a\r1,x\r2,y\r").frame["a"].tolist() == ["x", "y"]
    assert _csv(tmp_path, "sep=;\r\nid;a\r\n1;x,y\r\n").frame["a"].tolist() == ["x,y"]
    table = _csv(tmp_path, 'id,"Dia.\n(mm)",b\n1,450,x\n2,1,2,3\n')
    assert table.frame.columns.tolist() == ["id", "Dia. (mm)", "b"]
    assert table.ragged.fillna("").tolist() == ["", "4 fields where the header has 3"]


def test_a_mark_at_the_start_of_the_file_is_no_part_of_the_first_heading(tmp_path):
    table = _csv(tmp_path, "id,a\n1,x\n".encode("utf-8-sig"), encoding="utf-8")
    assert table.frame.columns.tolist() == ["id", "a"]
