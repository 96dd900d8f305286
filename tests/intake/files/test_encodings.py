"""Texts of any encoding, of one or of several, and with any line ends."""

import pytest

from pipeline.errors import InputError, SettingsError
from pipeline.intake.files.layers import read_raw
from pipeline.programme.settings import Cores, Layer


def _csv(tmp_path, data, **settings):
    (tmp_path / "cores.csv").write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_raw(Cores(path="cores.csv", **settings), tmp_path, "cores", None)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_encoding_and_delimiter_are_found(tmp_path, encoding, delimiter):
    table = _csv(tmp_path, f"id{delimiter}straße\n001{delimiter}Höhe\n".encode(encoding))
    assert table.frame.to_dict("list") == {"id": ["001"], "straße": ["Höhe"]}


def test_the_mark_of_utf_8_is_believed_whatever_is_set_for_the_other_files(tmp_path):
    table = _csv(tmp_path, "id,straße\n001,Höhe\n".encode("utf-8-sig"), encoding="cp1252")
    assert table.frame.to_dict("list") == {"id": ["001"], "straße": ["Höhe"]}


def test_a_legacy_encoding_is_read_and_said(tmp_path):
    table = _csv(tmp_path, "id,street\n1,Høyløkka\n".encode("cp1252"))
    assert table.frame["street"][0] == "Høyløkka"
    assert "Windows-1252" in table.notices[0]
    assert _csv(tmp_path, "id,s\n1,ж\n".encode("cp1251"), encoding="cp1251").frame["s"][0] == "ж"


def test_a_mark_at_the_start_of_the_file_is_no_part_of_the_first_heading(tmp_path):
    table = _csv(tmp_path, "id,a\n1,x\n".encode("utf-8-sig"), encoding="utf-8")
    assert table.frame.columns.tolist() == ["id", "a"]


MIXED = "id,street\n1,Høyløkka\n2,Elm\n".encode() + "3,Åsen\n4,Pine\n5,Øra\n".encode("cp1252") + "6,Bø\n".encode()


def test_lines_of_another_encoding_spoil_no_other_line_and_are_named(tmp_path):
    table = _csv(tmp_path, MIXED)
    assert table.frame["street"].tolist() == ["Høyløkka", "Elm", "Åsen", "Pine", "Øra", "Bø"]
    assert table.notices == [
        "cores.csv: line 4 and 1 later line are not UTF-8 like the rest; read as Windows-1252. Check the letters."
    ]


def test_an_encoding_that_does_not_fit_is_refused_with_the_line(tmp_path):
    with pytest.raises(InputError, match=r"line 4: byte 31 is not utf-8"):
        _csv(tmp_path, MIXED, encoding="utf-8")
    with pytest.raises(SettingsError, match="found 'utf-9'"):
        _csv(tmp_path, MIXED, encoding="utf-9")


@pytest.mark.parametrize("encoding", ["punycode", "undefined", "idna", "unicode_escape", "zlib", "utf\0", "\udc80", ""])
def test_only_encodings_of_text_are_taken(tmp_path, encoding):
    with pytest.raises(
        SettingsError, match=r'^cores\.encoding: found \'.*\', expected an encoding of text such as "utf-8"'
    ):
        _csv(tmp_path, "id,a\n1,x\n", encoding=encoding)


def test_a_byte_that_no_encoding_defines_loses_no_row(tmp_path):
    # 0x81 is a byte that Windows-1252 leaves undefined
    assert _csv(tmp_path, b"id,street\n1,H\x81y\n").frame["street"].tolist() == ["H\ufffdy"]


def test_a_carriage_return_inside_a_line_is_a_blank_and_is_reported(tmp_path):
    table = _csv(tmp_path, "id,dia\rmeter\n1,45\r0\n2,3\n")
    assert table.frame.to_dict("list") == {"id": ["1", "2"], "dia meter": ["45 0", "3"]}
    assert table.notices == ["cores.csv: 2 carriage returns inside lines read as spaces, the first in line 1."]


def test_a_nul_is_no_part_of_a_header_or_a_cell_whatever_the_encoding(tmp_path):
    for encoding in (None, "utf-8", "cp1252", "utf-16-le"):
        text = "id,str\x00eet\n1,Mill\x00Street\n".encode(encoding or "utf-8")
        table = _csv(tmp_path, text, encoding=encoding, where="id = 1")
        assert table.frame.to_dict("list") == {"id": ["1"], "str\ufffdeet": ["Mill\ufffdStreet"]}


def test_a_stray_control_character_does_not_make_a_short_text_binary(tmp_path):
    assert _csv(tmp_path, "id,street\n1,Mill Street\n\x1a").frame["id"].tolist()[0] == "1"
    assert _csv(tmp_path, "id,street\n1,Mill\x00Street\n").frame["street"].tolist() == ["Mill\ufffdStreet"]


def test_rows_that_only_carriage_returns_separate_stay_rows(tmp_path):
    table = _csv(tmp_path, "id,street,dia\n1,a,4\r2,b,5\n3,c,6\n4,d,7\n")
    assert table.frame["id"].tolist() == ["1", "2", "3", "4"]
    assert table.places.tolist() == [2, 3, 4, 5]


def test_a_carriage_return_inside_a_cell_makes_no_row_of_its_halves(tmp_path):
    # three fields on each side of the slip, where a row has five
    table = _csv(tmp_path, "id,a,b,c,d\n1,2,x\ry,4,5\n2,3,z,5,6\n3,4,z,6,7\n")
    assert table.frame["b"].tolist() == ["x y", "z", "z"]


@pytest.mark.parametrize("encoding", ["cp1252", "utf-8-sig", "utf-16"])
def test_a_table_or_layer_that_the_map_library_reads_may_have_any_encoding_too(tmp_path, encoding):
    text = 'yard,item,"shape"\n"Dépôt – Nord",grout dark,"LINESTRING (0 0, 9 9)"\n'
    (tmp_path / "stock.csv").write_bytes(text.encode(encoding))
    (tmp_path / "stock.csvt").write_text('"String","String","WKT"\n', encoding="utf-8")
    table = read_raw(Layer(path="stock.csv"), tmp_path, "roads", None)
    assert table.frame["yard"].tolist() == ["Dépôt – Nord"]
    assert table.geometry[0].wkt == "LINESTRING (0 0, 9 9)"
    said = ["stock.csv: not UTF-8, read as Windows-1252. Save it as UTF-8 if letters look wrong."]
    assert table.notices == (said if encoding == "cp1252" else [])


def test_a_table_of_bytes_is_no_text(tmp_path):
    (tmp_path / "stock.csv").write_bytes(b"yard,item\n" + bytes(range(32)) * 9)
    with pytest.raises(InputError, match=r"^stock\.csv: this is a binary file, not text"):
        read_raw(Layer(path="stock.csv"), tmp_path, "orders.stock", None)
