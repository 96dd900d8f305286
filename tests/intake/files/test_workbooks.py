"""Workbooks: which sheet is the table, what is read of it, and what each unusable one is answered."""

import datetime as dt
import zipfile
import zlib

import pytest
import xlsxwriter

from pipeline.errors import InputError
from pipeline.intake.files.layers import read_raw
from pipeline.programme.settings import Cores, Layer

HEADER = ["core_id", "lat", "lon", "diameter", "depth"]
ROW = ["HV-1", 44.8, -82.2, 450, 300]


def _book(tmp_path, fill, **options):
    with xlsxwriter.Workbook(str(tmp_path / "cores.xlsx"), options) as book:
        fill(book)


def _read(tmp_path, **settings):
    return read_raw(Cores(path="cores.xlsx", **settings), tmp_path, "cores", None)


def _sheet(book, name, *rows):
    sheet = book.add_worksheet(name)
    for number, row in enumerate(rows):
        sheet.write_row(number, 0, row)
    return sheet


def test_a_workbook_is_read_as_people_see_it(tmp_path):
    def fill(book):
        sheet = _sheet(book, "First", ["id", "dia", "cut", "lon", "flag"], [7, 450], [], ["A-8", "18 in", "", 0.5])
        sheet.write_datetime(1, 2, dt.datetime(2026, 9, 30), book.add_format({"num_format": "yyyy-mm-dd"}))
        sheet.write_row(1, 3, [-82.2012, True])

    _book(tmp_path, fill)
    table = _read(tmp_path)
    assert table.frame["id"].tolist() == ["7", "A-8"]
    assert table.rows.tolist() == [1, 2]
    # as the sheet numbers them
    assert table.places.tolist() == [2, 4]
    assert table.set_aside[["place", "reason"]].to_numpy().tolist() == [[3, "blank"]]
    assert table.frame["dia"].tolist() == ["450", "18 in"]
    assert table.frame["cut"][0] == "2026-09-30"
    assert table.frame["lon"].tolist() == ["-82.2012", "0.5"]
    assert table.stored_as_number["dia"].tolist() == [True, False]
    assert table.stored_as_number["cut"].tolist() == [False, False]
    with pytest.raises(InputError, match="no sheet 'Third'; the workbook has: First"):
        _read(tmp_path, layer="Third")


def test_titles_merged_heads_units_totals_and_footers_leave_only_the_cores(tmp_path):
    def fill(book):
        sheet = book.add_worksheet("March")
        sheet.merge_range("B2:F2", "Cores opened in March")
        sheet.merge_range("B4:B5", "Tag")
        sheet.merge_range("C4:D4", "Position")
        sheet.merge_range("E4:F4", "Core")
        sheet.write_row("C5", ["Lat", "Lon", "Ø", "Depth"])
        sheet.write_row("C6", ["°", "°", "in", "in"])
        sheet.write_row("B7", ["HV-1", 44.8, -82.2, 18, 12])
        sheet.write_row("B8", ["HV-2"])
        sheet.write_row("B10", ["HV-3", 44.8, -82.2, 18, 12])
        sheet.write_row("B11", ["3 cores", "", "", "", 24])
        sheet.write_row("B13", ["Checked by: J. Field"])

    _book(tmp_path, fill)
    table = _read(
        tmp_path, columns={"core_id": "Tag", "diameter": "Core Ø", "depth": "Depth"}, x="Lon", y="Lat", crs="EPSG:4326"
    )
    assert table.frame.columns.tolist() == ["Tag", "Lat", "Lon", "Core Ø", "Depth"]
    assert table.frame["Tag"].tolist() == ["HV-1", "HV-2", "HV-3"]
    assert table.places.tolist() == [7, 8, 10]
    assert table.header_units == {"Lat": "°", "Lon": "°", "Core Ø": "in", "Depth": "in"}
    assert table.set_aside.to_numpy().tolist() == [
        [2, "title", "Cores opened in March"],
        [3, "blank", ""],
        [6, "units", "° | ° | in | in"],
        [9, "blank", ""],
        [11, "total", "3 cores | 24"],
        [12, "blank", ""],
        [13, "footer or note", "Checked by: J. Field"],
    ]
    assert table.rows_in_file == 3


def test_the_sheet_that_holds_the_names_is_read_and_reported(tmp_path):
    def fill(book):
        _sheet(book, "Rates", ["Item", "Rate"], ["Grout, bag", 12.5])
        _sheet(book, "Cores", ["Harbour Vale"], HEADER, ROW)
        _sheet(book, "Blank")
        _sheet(book, "Old", HEADER, ROW).hide()

    _book(tmp_path, fill)
    table = _read(tmp_path)
    assert table.frame["core_id"].tolist() == ["HV-1"]
    assert table.notices == ["cores.xlsx: sheet 'Cores' is read, its header in row 2; not read: 'Rates'."]
    assert _read(tmp_path, layer="Old").frame["core_id"].tolist() == ["HV-1"]
    with pytest.raises(InputError, match="sheet 'Blank' holds no cells"):
        _read(tmp_path, layer="Blank")


def test_several_sheets_that_could_be_meant_are_listed_with_their_headers(tmp_path):
    def fill(book):
        _sheet(book, "March", HEADER, ROW)
        _sheet(book, "April", ["April"], [*HEADER, "street", "crew", "bags", "notes"], ROW)

    _book(tmp_path, fill)
    with pytest.raises(InputError, match="2 sheets hold the columns that are needed") as caught:
        _read(tmp_path)
    assert "'March' (row 1: core_id, lat, lon, diameter, depth)" in str(caught.value)
    assert "'April' (row 2: core_id, lat, lon, diameter, depth, street, crew, bags, ...)" in str(caught.value)
    assert 'Name one in cores.layer, or several, such as layer = ["Jan", "Feb"]' in str(caught.value)


def test_sheets_none_of_which_holds_the_names_are_listed_and_a_single_one_is_read(tmp_path):
    _book(tmp_path, lambda book: [_sheet(book, name, ["id", name], [1, 2]) for name in "ab"])
    with pytest.raises(
        InputError, match=r"2 sheets do not hold every column that is expected: 'a' \(row 1: id, a\); 'b'"
    ):
        _read(tmp_path)
    with pytest.raises(InputError, match="Keep one of them visible"):
        read_raw(Layer(path="cores.xlsx"), tmp_path, "orders.stock", None)
    _book(tmp_path, lambda book: _sheet(book, "a", ["id", "b"], [1, 2]))
    assert "Row 1 of sheet 'a' was taken for the header" in _read(tmp_path).hint


def test_a_workbook_of_charts_or_of_hidden_sheets_is_refused(tmp_path):
    def fill(book):
        book.add_chartsheet("Graph").activate()
        sheet = _sheet(book, "Data", HEADER, ROW)
        sheet.hide()

    _book(tmp_path, fill)
    with pytest.raises(InputError, match=r"only charts .*'Data'"):
        _read(tmp_path)
    with pytest.raises(InputError, match="sheet 'Graph' holds no cells"):
        _read(tmp_path, layer="Graph")


def test_hidden_rows_and_columns_are_read_and_reported(tmp_path):
    def fill(book):
        sheet = _sheet(book, "Cores", HEADER, *(["HV-" + str(n), *ROW[1:]] for n in range(5)))
        sheet.set_row(2, None, None, {"hidden": True})
        sheet.set_row(3, None, None, {"hidden": True})
        sheet.set_column(4, 4, None, None, {"hidden": True})

    _book(tmp_path, fill)
    table = _read(tmp_path)
    assert len(table.frame) == 5
    assert table.notices == ["cores.xlsx: 2 hidden rows and 1 hidden column of sheet 'Cores' are read as well."]


def test_formulas_give_their_stored_values_and_what_has_none_is_no_blank(tmp_path):
    def fill(book):
        sheet = _sheet(book, "Cores", [*HEADER, "crew", "street"], ROW)
        sheet.write_formula(1, 3, "=9*50", None, 450)
        sheet.write_formula(1, 4, "=C2/0", None, "#DIV/0!")
        sheet.write_formula(1, 5, '="A"&"1"', None, "")
        sheet.write_formula(1, 6, '="Mill"', None, "Mill")

    _book(tmp_path, fill)
    table = _read(tmp_path)
    assert table.frame.loc[0, ["diameter", "depth", "crew", "street"]].tolist() == [
        "450",
        "#DIV/0!",
        '="A"&"1"',
        "Mill",
    ]
    assert table.notices[0].startswith(
        "cores.xlsx: 1 formula of sheet 'Cores' has no stored value, the first in cell F2. Open the workbook in a "
    )


def test_the_header_row_can_be_set_as_the_sheet_numbers_it(tmp_path):
    def fill(book):
        sheet = book.add_worksheet("Cores")
        sheet.write_row("A3", HEADER)
        sheet.write_row("A4", HEADER)
        sheet.write_row("A5", ROW)

    _book(tmp_path, fill)
    assert _read(tmp_path, header_row=4).places.tolist() == [5]
    for row in (2, 9):
        with pytest.raises(InputError, match=f"row {row} of sheet 'Cores' is blank or beyond the table"):
            _read(tmp_path, header_row=row)


def test_days_counted_from_1904_are_reported_as_such(tmp_path):
    def fill(book):
        sheet = _sheet(book, "Cores", [*HEADER, "opened_on"], ROW)
        sheet.write_datetime(1, 5, dt.datetime(2026, 9, 30), book.add_format({"num_format": "yyyy-mm-dd"}))

    _book(tmp_path, fill, date_1904=True)
    table = _read(tmp_path)
    assert table.is_1904
    assert table.frame["opened_on"].tolist() == ["2026-09-30"]


def test_a_duration_beyond_range_is_named_with_its_row(tmp_path):
    def fill(book):
        sheet = _sheet(book, "Cores", [*HEADER, "time"], ROW, ROW)
        sheet.write_number(2, 5, 1e12, book.add_format({"num_format": "[h]:mm"}))

    _book(tmp_path, fill)
    with pytest.raises(InputError, match=r"sheet 'Cores', row 3: a number in the format of a date or a duration"):
        _read(tmp_path)


def test_a_wide_sheet_is_read(tmp_path):
    _book(tmp_path, lambda book: _sheet(book, "Cores", [*HEADER, *range(15_995)], [*ROW, *range(15_995)]))
    table = _read(tmp_path)
    assert table.frame.shape == (1, 16_000)
    assert table.frame["15994"].tolist() == ["15994"]


@pytest.mark.parametrize("shown_as", ["h:mm", "[h]:mm"])
@pytest.mark.parametrize("number", [-1e15, 1e300])
def test_a_time_that_no_clock_has_is_refused_or_kept_without_a_word_of_the_library(tmp_path, capfd, number, shown_as):
    def fill(book):
        sheet = _sheet(book, "Cores", HEADER, ROW)
        sheet.write_number(1, 1, number, book.add_format({"num_format": shown_as}))

    _book(tmp_path, fill)
    try:
        assert len(_read(tmp_path).frame) == 1
    except InputError as error:
        assert "row 2: a number in the format of a date or a duration is out of range" in str(error)  # noqa: PT017 - either may be
    assert capfd.readouterr() == ("", "")


def test_a_workbook_whose_sheet_does_not_unpack_is_damaged(tmp_path):
    _book(tmp_path, lambda book: _sheet(book, "Cores", HEADER, *[ROW] * 200))
    raw = bytearray((tmp_path / "cores.xlsx").read_bytes())
    with zipfile.ZipFile(tmp_path / "cores.xlsx") as archive:
        part = archive.getinfo("xl/worksheets/sheet1.xml")
    # behind the head of 30 bytes, the name and the further fields: a block of a kind that there is not
    raw[part.header_offset + 30 + len(part.filename) + len(part.extra)] = 0x07
    (tmp_path / "cores.xlsx").write_bytes(raw)
    with zipfile.ZipFile(tmp_path / "cores.xlsx") as archive, pytest.raises(zlib.error):
        archive.read(part.filename)
    with pytest.raises(InputError, match=r"^cores\.xlsx: .*damaged"):
        read_raw(Cores(path="cores.xlsx"), tmp_path, "cores", None)
