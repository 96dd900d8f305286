"""Workbooks that would abort the process or cannot be used are refused before they are opened."""

import re
import zipfile

import pytest
import xlsxwriter

from pipeline.errors import InputError
from pipeline.intake.files.workbooks import read_sheet

FAR = b'<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'


def _with_cells(path, cells):
    """Write a workbook whose only sheet has these rows, as XML."""
    plain = path.with_name("plain.xlsx")
    with xlsxwriter.Workbook(str(plain)) as book:
        book.add_worksheet("Cores").write(0, 0, 1)
    with zipfile.ZipFile(plain) as source, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            text = source.read(name)
            if name.endswith("sheet1.xml"):
                text = re.sub(rb"<sheetData>.*</sheetData>", b"<sheetData>" + cells + b"</sheetData>", text)
            target.writestr(name, text)


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        (FAR, "extends to row 1,048,576 and column 16,384"),
        # a cell that contradicts its row
        (FAR.replace(b'<row r="1048576">', b'<row r="2">'), "extends to row 1,048,576 and column 16,384"),
        # cells that do not state where they are, or in another way: tried in a child process
        (b"<row>" + b"<c/>" * 16_383 + b'<c><v>1</v></c></row><row r="1048576"><c><v>1</v></c></row>', "fit in memory"),
        (FAR.replace(b'"', b"'"), "fit in memory"),
    ],
)
def test_a_cell_far_beyond_the_table_is_refused_and_aborts_nothing(tmp_path, cells, words):
    path = tmp_path / "cores.xlsx"
    _with_cells(path, cells)
    assert path.stat().st_size < 20_000
    with pytest.raises(InputError, match=words):
        read_sheet(path, "cores.xlsx", None)


def test_cells_that_do_not_state_where_they_are_are_read(tmp_path):
    path = tmp_path / "cores.xlsx"
    _with_cells(path, b"<row><c><v>1</v></c></row><row><c><v>2</v></c></row>")
    assert read_sheet(path, "cores.xlsx", None).frame.to_dict("list") == {"1": ["2"]}


@pytest.mark.parametrize("end", ["xlsx", "xlsm", "xlsb"])
def test_a_protected_workbook_is_named_as_such(tmp_path, end):
    path = tmp_path / f"cores.{end}"
    # the container of an encrypted workbook: its mark, and the name of the stream that holds the workbook
    path.write_bytes(
        bytes.fromhex("d0cf11e0a1b11ae1") + bytes(1000) + "EncryptedPackage".encode("utf-16-le") + bytes(99)
    )
    with pytest.raises(InputError, match=rf"cores\.{end}: the workbook is protected by a password"):
        read_sheet(path, path.name, None)
    path.write_bytes(bytes.fromhex("d0cf11e0a1b11ae1") + bytes(1000))
    with pytest.raises(InputError, match="this is an old workbook"):
        read_sheet(path, path.name, None)


def test_a_workbook_cut_short_is_refused_wherever_it_is_cut(tmp_path):
    path = tmp_path / "cores.xlsx"
    _with_cells(path, b'<row r="1"><c r="A1"><v>1</v></c></row>')
    complete = path.read_bytes()
    for cut in (0, 10, len(complete) // 2, len(complete) - 1):
        path.write_bytes(complete[:cut])
        with pytest.raises(InputError, match="cannot be read as a workbook"):
            read_sheet(path, "cores.xlsx", None)


def test_a_workbook_that_unpacks_to_gigabytes_is_refused_by_its_directory(tmp_path):
    path = tmp_path / "cores.xlsx"
    _with_cells(path, b"")
    # the size of a part as the directory of the archive states it, four bytes from the 24th of its entry
    data = bytearray(path.read_bytes())
    at = data.index(b"PK\x01\x02")
    data[at + 24 : at + 28] = (0xFFFFFFF0).to_bytes(4, "little")
    at = data.index(b"PK\x01\x02", at + 4)
    data[at + 24 : at + 28] = (0xFFFFFFF0).to_bytes(4, "little")
    path.write_bytes(data)
    with pytest.raises(InputError, match="unpacks to 8 GiB, expected at most 4 GiB"):
        read_sheet(path, "cores.xlsx", None)


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("a.xlsx", b"\x89PNG\r\n\x1a\n\x00\x00", r"a\.xlsx: this is a picture, not a workbook: no cells can be read"),
        ("a.xlsx", b"%PDF-1.7\n", "this is a PDF, not a workbook"),
        (
            "a.xls",
            b"\xef\xbb\xbf\n<HTML><table>",
            r"this is a web page \(HTML\) that was saved with the extension \.xls",
        ),
        ("a.xls", b"<?xml version='1.0'?><Workbook>", r"this is a text with tags \(XML\)"),
        ("a.xls", b"id\tdepth\n1\t2\n", "this is a text file such as a CSV that was saved with the extension"),
        ("a.xlsx", b"PK\x03\x04 cut short", "it is damaged or cut short"),
    ],
)
def test_what_only_has_the_name_of_a_workbook_is_told_as_what_it_is(tmp_path, name, content, message):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(InputError, match=message):
        read_sheet(tmp_path / name, name, None)
