"""What was understood of a column: how many cells were read, the ends of their range, and where those are."""

import datetime as dt

import pytest

from pipeline.intake.column_facts import Cell
from tests.intake.registers_understood import register_of, rows, understood


def _facts(name, cells, **settings):
    return understood(register_of(cells, **settings)).column(name)


def test_filled_read_unread_and_empty_cells_add_up():
    facts = _facts("diameter_mm", rows(5, dia=["450", "large", "", "n/a", "18 in"]))
    assert (facts.filled, facts.read, facts.unreadable, facts.empty) == (3, 2, 1, 2)
    assert facts.filled + facts.empty == 5


def test_the_ends_of_a_range_have_the_cells_as_they_were_written():
    """18 in are 457.2 mm; the median of 300, 450 and 457.2 is 450. The first row is in line 4 of the file."""
    facts = _facts("diameter_mm", rows(3, dia=["450", "18 in", "300"]))
    assert (facts.low.value, facts.low.cell) == (300, Cell("300", "north.csv", 6))
    assert facts.high.value == pytest.approx(457.2)
    assert facts.high.cell == Cell("18 in", "north.csv", 5)
    assert facts.middle == 450


def test_unread_cells_are_counted_by_reason_with_three_examples():
    cells = ["big", "wide", "450", "round", "odd", "1,200"]
    facts = _facts("diameter_mm", rows(6, dia=cells))
    unreadable, thousands = facts.unread
    assert (unreadable.reason, unreadable.number) == ("unreadable", 4)
    assert [(cell.text, cell.place) for cell in unreadable.cells] == [("big", 4), ("wide", 5), ("round", 7)]
    assert (thousands.reason, thousands.number) == ("thousands or decimals", 1)


def test_dates_have_a_first_and_a_last_and_how_many_lie_ahead():
    cells = rows(3, cut=["2026-04-02", "2026-10-05", "2026-03-01"])
    facts = _facts("opened_on", cells, columns={"opened_on": "cut"})
    assert (facts.low.value.date(), facts.low.cell.place) == (dt.date(2026, 3, 1), 6)
    assert (facts.high.value.date(), facts.high.cell.place) == (dt.date(2026, 10, 5), 5)
    assert facts.middle is None
    # the day of the audit is 30 September
    assert facts.ahead == 1


def test_texts_have_the_number_of_different_ones_and_the_three_commonest():
    streets = ["Quay", "Quay", "Quay", "Mill", "Mill", "Hill", "Hill", "Dock"]
    facts = _facts("street", rows(8, road=streets), columns={"street": "road"})
    assert facts.different == 4
    assert facts.commonest[0] == ("Quay", 3)
    assert set(facts.commonest[1:]) == {("Mill", 2), ("Hill", 2)}


def test_a_column_that_the_register_lacks_is_told_from_one_left_empty():
    lacking = _facts("crew", rows(2))
    empty = _facts("crew", rows(2, gang=""), columns={"crew": "gang"})
    assert (lacking.is_kept, empty.is_kept) == (False, True)
    assert lacking.empty == empty.empty == 2


@pytest.mark.parametrize(("file", "is_line"), [("a.CSV", True), ("a.txt", True), ("a.xlsx", False), ("a.gpkg", False)])
def test_a_place_in_a_text_is_a_line_and_in_a_sheet_a_row(file, is_line):
    assert Cell("450", file, 7).is_line is is_line
