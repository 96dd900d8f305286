"""Which sheets of a workbook are meant."""

import pytest
import xlsxwriter

from pipeline.errors import InputError
from pipeline.intake.files.header_rows import wanted_of
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.sheet_choice import matching_sheets
from pipeline.programme.settings import Cores

_NAMES = {"core_id": "Tag", "diameter": "Dia", "depth": "Deep", "remarks": "Remark"}
_NEEDED = ["Tag", "Lat", "Lon", "Dia", "Deep"]
_ROW = ["A1", 44.8, -82.2, 450, 300]


@pytest.fixture
def book(tmp_path):
    """Two months, of which February has one more column that is mapped; rates; a blank sheet and a hidden month."""
    with xlsxwriter.Workbook(str(tmp_path / "book.xlsx")) as book:
        for name, rows in {
            "2026-01": [_NEEDED, _ROW],
            "2026-02": [[*_NEEDED, "Remark"], [*_ROW, "wet"]],
            "2026 rates": [["Item", "Rate"], ["Grout", 12]],
            "2026-03": [],
            "2025-12": [_NEEDED, _ROW],
        }.items():
            sheet = book.add_worksheet(name)
            for number, row in enumerate(rows):
                sheet.write_row(number, 0, row)
        sheet.hide()
    return tmp_path


def _section(**settings):
    return Cores(path="book.xlsx", columns=_NAMES, x="Lon", y="Lat", crs="EPSG:4326", **settings)


def _matching(folder, *asked):
    return matching_sheets(folder / "book.xlsx", "book.xlsx", asked, wanted_of(_section(), "cores"))


def test_a_sheet_with_one_more_column_does_not_win_over_another_that_holds_cores(book):
    with pytest.raises(
        InputError, match=r"2 sheets hold the columns that are needed: '2026-01' .*; '2026-02'"
    ) as caught:
        read_raw(_section(), book, "cores", None)
    assert 'layer = ["Jan", "Feb"], or a pattern, such as layer = "*"' in str(caught.value)


def test_a_pattern_stands_for_the_visible_sheets_that_hold_cores_and_tells_of_the_others(book):
    names, notices = _matching(book, "*")
    assert names == ["2026-01", "2026-02"]
    assert len(notices) == 2
    assert notices[0].startswith("book.xlsx: sheet '2026 rates' (row 1: Item, Rate) is not read: it matches '*', but ")
    assert notices[1] == "book.xlsx: sheet '2025-12' is hidden and not read; name it in cores.layer to read it."
    rates = _matching(book, "2026*")[1]
    assert (len(rates), "'2026 rates'" in rates[0]) == (1, True)
    assert _matching(book, "2026-*") == (["2026-01", "2026-02"], [])


def test_names_are_taken_in_the_order_they_are_written_and_may_be_hidden(book):
    assert _matching(book, "2026-02", "2025-12") == (["2026-02", "2025-12"], [])
    # a sheet that is named and matched is read once
    assert _matching(book, "2025-12", "*-0*", "2026-01") == (["2025-12", "2026-01", "2026-02"], [])


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (["2026-01", "June"], "no sheet 'June'; the workbook has: 2026-01, 2026-02, "),
        (["2027*"], r"no visible sheet that cores\.layer = '2027\*' matches .* the workbook has '2026-01'"),
        (["*rates"], r"it matches '2026 rates' \(row 1: Item, Rate\)\. Correct cores\.layer, or the columns\."),
    ],
)
def test_what_no_sheet_is_meant_by_is_refused(book, asked, message):
    with pytest.raises(InputError, match=message):
        _matching(book, *asked)


def test_a_sheet_chosen_among_several_is_named_where_its_rows_are(book):
    table = read_raw(_section(layer="2026-02"), book, "cores", None)
    assert (table.label, table.sheet, table.header_place) == ("book.xlsx, sheet 2026-02", "2026-02", 1)
    with xlsxwriter.Workbook(str(book / "book.xlsx")) as one:
        sheet = one.add_worksheet("Cores")
        sheet.write_row(1, 0, _NEEDED)
        sheet.write_row(2, 0, _ROW)
    table = read_raw(_section(), book, "cores", None)
    assert (table.label, table.sheet, table.header_place) == ("book.xlsx", "Cores", 2)
