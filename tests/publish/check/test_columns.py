"""The columns of a register in words: what was read, in which unit, from where to where."""

import pytest

from pipeline.intake.column_facts import Cell
from pipeline.publish.check.columns import cell_shown, columns_shown
from pipeline.publish.check.voice import for_text
from pipeline.publish.words import words_of
from tests.intake.registers_understood import register_of, rows, understood
from tests.publish.check.inputs_checked import checked

_VOICE = for_text(words_of("en"))


def _shown(*parts):
    return {row["label"]: row for row in columns_shown(understood(*parts), _VOICE)}


def test_a_measure_has_its_range_with_the_cells_at_its_ends():
    """The first row is in line 4; 300, 450 and 457.2 have the median 450."""
    diameter = _shown(register_of(rows(3, dia=["450", "18 in", "300"])))["Diameter"]
    assert diameter["header"] == "dia"
    assert diameter["read"] == "all 3"
    assert diameter["unit"] == "mm (programme)"
    assert diameter["values"] == "300 mm (“300”, line 6) to 457 mm (“18 in”, line 5); median 450 mm"


def test_cells_that_cannot_be_read_are_shown_with_where_they_are():
    diameter = _shown(register_of(rows(3, dia=["450", "large", ""])))["Diameter"]
    assert diameter["read"] == "1 of 3"
    assert diameter["unread"] == ["1 not read (unreadable): “large”, line 5"]
    assert diameter["is_misread"]


def test_dates_have_a_first_and_a_last_and_how_their_order_was_settled():
    cells = rows(3, cut=["03/04/2026", "25/04/2026", "2026-03-01"])
    opened = _shown(register_of(cells, columns={"opened_on": "cut"}, day_first=True))["Opened"]
    assert opened["values"] == "1 Mar 2026 (“2026-03-01”, line 6) to 25 Apr 2026 (“25/04/2026”, line 5)"
    assert (
        opened["order"] == "Order of day and month: as set in the programme; 1 can only be day first; 1 could be either"
    )


def test_texts_are_counted_and_the_commonest_shown():
    cells = rows(4, road=["Quay", "Quay", "Quay", "Mill"])
    street = _shown(register_of(cells, columns={"street": "road"}))["Street recorded"]
    assert street["values"] == "2 different; most often Quay: 3, Mill: 1"
    assert _shown(register_of(cells))["Core id"]["values"] == "all different, such as N1, N2, N3"


def test_a_cell_of_several_files_has_the_name_of_its_file():
    parts = register_of(rows(1, dia="300"), path="a/06.xlsx"), register_of(rows(1, dia="450"), path="a/07.xlsx")
    assert "300 mm (“300”, 06.xlsx, row 4) to 450 mm (“450”, 07.xlsx, row 4)" in _shown(*parts)["Diameter"]["values"]


def test_units_that_each_cell_gives_are_no_unit_of_the_column():
    cells = rows(2, dia=["18 in", "450 mm"])
    diameter = _shown(register_of(cells, units={"depth": "mm"}))["Diameter"]
    assert diameter["unit"] == "in the cells"


def test_a_column_that_the_register_lacks_is_not_shown():
    assert "Crew" not in _shown(register_of(rows(1)))


@pytest.mark.parametrize(
    ("text", "shown"),
    [("609.5999999999999", "609.6"), ("304.79999999999995", "304.8"), ("12.50", "12.50"), ("0.1234567890123x", None)],
)
def test_a_cell_is_shown_without_the_digits_that_a_workbook_adds(text, shown):
    assert cell_shown(Cell(text, "a.xlsx", 3), checked().registers[0], _VOICE) == f"“{shown or text}”, row 3"
