"""Delimited text: its header and delimiter, the line of each row, and rows set aside."""

import pytest

from pipeline.errors import InputError, SettingsError
from pipeline.intake.files.layers import read_raw
from pipeline.programme.settings import Cores


def _csv(tmp_path, data, **settings):
    (tmp_path / "cores.csv").write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_raw(Cores(path="cores.csv", **settings), tmp_path, "cores", None)


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
    with pytest.raises(InputError, match="line 3, column 'a': a quotation mark opens a cell that spans 3 lines"):
        _csv(tmp_path, 'id,a,b\n1,x,y\n2,"x,y\n3,x,y\n4,x,y\n')


def test_a_cell_longer_than_a_block_of_the_reader_is_read(tmp_path):
    """The reader takes a mebibyte at a time; a row that does not fit the header stays in its place."""
    remark = "x" * (3 << 20)
    table = _csv(tmp_path, f"id,a,b\n1,x,y\n2,x\n3,{remark},y\n4,x,y\n")
    assert table.frame["id"].tolist() == ["1", "2", "3", "4"]
    assert table.frame["a"].tolist() == ["x", "x", remark, "x"]
    assert table.ragged.notna().tolist() == [False, True, False, False]


def test_a_quotation_mark_never_closed_in_a_long_file_is_named_by_its_line(tmp_path):
    rows = "".join(f"{row},x,y\n" for row in range(200_000))
    with pytest.raises(InputError, match="line 2, column 'a': a quotation mark opens a cell that spans 200001 lines"):
        _csv(tmp_path, 'id,a,b\n1,"x,y\n' + rows)


def test_a_cell_of_several_lines_is_one_cell(tmp_path):
    assert _csv(tmp_path, 'id,a,b\n1,"x\ny",z\n').frame["a"][0] == "x\ny"


def test_old_line_ends_a_line_for_spreadsheets_and_a_heading_of_two_lines_are_read(tmp_path):
    assert _csv(tmp_path, "id,a\r1,x\r2,y\r").frame["a"].tolist() == ["x", "y"]
    assert _csv(tmp_path, "sep=;\r\nid;a\r\n1;x,y\r\n").frame["a"].tolist() == ["x,y"]
    table = _csv(tmp_path, 'id,"Dia.\n(mm)",b\n1,450,x\n2,1,2,3\n')
    assert table.frame.columns.tolist() == ["id", "Dia. (mm)", "b"]
    assert table.ragged.fillna("").tolist() == ["", "4 fields where the header has 3"]


MAPPED = {"core_id": "Core ID", "diameter_mm": "Dia", "depth_mm": "Depth"}
HEADER = "Core ID;Dia;Depth;Lat;Lon\n"


def _register(tmp_path, data, **settings):
    return _csv(tmp_path, data, columns=MAPPED, x="Lon", y="Lat", **settings)


def test_titles_above_the_header_are_set_aside_and_the_delimiter_is_that_of_the_header(tmp_path):
    table = _register(tmp_path, "Cores, all of them, 2026\n\nby: crews 1, 2, 3\n" + HEADER + "HV-1;450;300;44,8;-82\n")
    assert table.frame.columns.tolist() == ["Core ID", "Dia", "Depth", "Lat", "Lon"]
    assert table.frame["Lat"].tolist() == ["44,8"]
    assert table.places.tolist() == [5]
    assert table.set_aside.to_dict("list") == {
        "place": [1, 2, 3],
        "reason": ["title", "blank", "title"],
        "text": ["Cores, all of them, 2026", "", "by: crews 1, 2, 3"],
    }


def test_places_are_lines_of_the_file_where_cells_span_lines_and_lines_are_blank(tmp_path):
    data = (
        HEADER
        + 'HV-1;450;"300\nmm";44.8;-82\n\nHV-2;450;300;44.8;-82\n;;;;\nHV-3;450;300;44.8\nHV-4;450;300;44.8;-82\n\n'
    )
    table = _register(tmp_path, data)
    assert table.frame["Core ID"].tolist() == ["HV-1", "HV-2", "HV-3", "HV-4"]
    assert table.places.tolist() == [2, 5, 7, 8]
    assert table.rows.tolist() == [1, 2, 3, 4]
    assert table.set_aside[["place", "reason"]].to_numpy().tolist() == [[4, "blank"], [6, "blank"]]
    assert table.ragged.fillna("").tolist() == ["", "", "4 fields where the header has 5", ""]
    assert table.rows_in_file == 4


def test_the_header_can_be_set_where_its_names_are_elsewhere_too(tmp_path):
    data = HEADER.replace("Lat", "Breadth") + HEADER + "HV-1;450;300;44.8;-82\n"
    assert _register(tmp_path, data, header_row=2).frame["Lat"].tolist() == ["44.8"]
    assert _register(tmp_path, "\n" + data, header_row=3).places.tolist() == [4]
    with pytest.raises(InputError, match=r"line 9 is blank or beyond the end of the file.*cores\.header_row"):
        _register(tmp_path, data, header_row=9)


@pytest.mark.parametrize("before", [";", ","])
def test_a_delimiter_that_changes_half_way_is_named_with_its_line(tmp_path, before):
    after = "," if before == ";" else ";"
    rows = "".join(f"HV-{n};450;300;44.8;-82\n" for n in range(6)).replace(";", before)
    later = "".join(f"HV-{n};450;300;44.8;-82\n" for n in range(6, 9)).replace(";", after)
    with pytest.raises(
        InputError, match=f"line 8: the fields are separated by '{after}', those of the header by '{before}'"
    ):
        _register(tmp_path, HEADER.replace(";", before) + rows + later)


def test_a_changed_delimiter_is_seen_where_decimal_commas_give_the_right_number_of_fields(tmp_path):
    data = "Core ID,Dia,Depth\nHV-1,450,300\nHV-2;45,0;30,0\nHV-3;45,0;30,0\n"
    with pytest.raises(InputError, match="line 3: the fields are separated by ';'"):
        _csv(tmp_path, data)


@pytest.mark.parametrize("delimiter", ["é", '"', "\n", "\0"])
def test_a_delimiter_that_cannot_be_used_is_refused(tmp_path, delimiter):
    with pytest.raises(SettingsError, match=r"cores\.delimiter: found"):
        _csv(tmp_path, "id,a\n1,2\n", delimiter=delimiter)


def test_a_cell_longer_than_any_name_or_note_is_no_traceback(tmp_path):
    with pytest.raises(InputError, match="line 1: a cell of more than 131,072 characters, expected the header"):
        _csv(tmp_path, "id," + "x" * 200_000 + "\n1,2\n")
    table = _csv(tmp_path, "id,a,b\n1,2,3\n2," + "x" * 200_000 + "\n")
    assert table.frame["id"].tolist()[0] == "1"
    assert table.ragged.notna().tolist() == [False, True]


def test_a_line_of_delimiters_alone_is_a_table_that_is_too_wide(tmp_path):
    with pytest.raises(InputError, match=r"^cores\.csv: 1,000,001 columns, expected at most 1,900"):
        _csv(tmp_path, "," * 1_000_000)


def test_what_is_likely_is_said_where_names_are_missing(tmp_path):
    assert _csv(tmp_path, "core_id,x,y,diameter,depth\n1,2,3,4,5\n").hint == ""
    one = _csv(tmp_path, "id,a\n1,2\n", delimiter=";").hint
    assert one == "The header in line 1 holds one column only: set cores.delimiter."
    none = _csv(tmp_path, "HV-1,450,300\nHV-2,450,300\n").hint
    assert none.startswith("No line holds an expected name; line 1 was taken for the header.")
    legacy = _csv(tmp_path, "id,průměr\n1,2\n".encode("cp1250")).hint
    assert 'set cores.encoding, such as "cp1250"' in legacy


def test_a_row_of_units_is_set_aside_and_kept_as_the_unit_of_each_column(tmp_path):
    table = _register(tmp_path, HEADER + ";(in);[mm];°;deg\nHV-1;18;300;44.8;-82\n")
    assert table.header_units == {"Dia": "in", "Depth": "mm", "Lat": "°", "Lon": "deg"}
    assert table.set_aside.to_numpy().tolist() == [[2, "units", "(in) | [mm] | ° | deg"]]
    assert table.frame["Core ID"].tolist() == ["HV-1"]


@pytest.mark.parametrize("end", [b'TC-0\x00"', b'TC-0,"', b"TC-0,4"])
def test_a_row_that_the_end_of_the_file_cuts_is_kept_and_said_to_be_cut(tmp_path, end):
    table = _csv(tmp_path, b"id,x,y\nTC-1,1,2\nTC-2,3,4\n" + end)
    assert len(table.frame) == 3
    assert table.frame["id"].iloc[-1].startswith("TC-0")
    assert table.ragged.iloc[-1].endswith("where the header has 3")
    assert table.notices[-1].startswith(
        "cores.csv: line 4, the last one, ends in the middle of a row: the file may be cut"
    )


def test_a_file_that_ends_with_a_whole_row_is_not_said_to_be_cut(tmp_path):
    assert _csv(tmp_path, b"id,x,y\nTC-1,1,2\nTC-2,3,4").notices == []
    assert _csv(tmp_path, b"id,x,y\nTC-1,1,2\nTC-2,3\n").notices == []


def test_a_header_of_very_many_columns_is_refused_before_its_rows_are_read(tmp_path):
    names = ",".join(f"c{number}" for number in range(30_000))
    with pytest.raises(InputError, match=r"cores\.csv: 30,000 columns, expected at most 1,900"):
        _csv(tmp_path, f"{names}\n1\n")
