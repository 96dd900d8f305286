"""What was understood of a register, all its files together."""

import pandas as pd
import pytest

from tests.intake.registers_understood import register_of, rows, understood


def test_several_files_of_a_register_are_one():
    first = register_of(rows(2, dia=["300", "450"]), path="06.csv")
    second = register_of(rows(3, dia=["600", "450", "large"]), path="07.csv")
    facts = understood(first, second)
    assert (facts.files, facts.rows) == (("06.csv", "07.csv"), 5)
    diameter = facts.column("diameter_mm")
    assert (diameter.low.cell.file, diameter.high.cell.file) == ("06.csv", "07.csv")
    assert diameter.unread[0].cells[0][1:] == ("07.csv", 6)


def test_columns_that_nothing_is_read_from_are_named():
    facts = understood(register_of(rows(2, cost="310", gang="A"), columns={"crew": "gang"}))
    assert facts.unused == ("cost",)


def test_a_row_that_repeats_another_in_every_cell_is_a_copy_and_no_repeated_id():
    """Rows 1 and 2 are equal; row 3 has their id, and another street."""
    cells = rows(3, id="N1", e="500000", road=["Quay", "Quay", "Mill"])
    facts = understood(register_of(cells, columns={"street": "road"}))
    assert (facts.copies, facts.repeated_ids) == (1, 1)


@pytest.mark.parametrize("name", ["x position", "y position", "0"])
def test_rows_that_differ_in_a_column_of_any_name_are_no_copies(name):
    cells = rows(2, id="N1", e="500000") | {name: ["p", "q"]}
    assert understood(register_of(cells)).copies == 0
    assert understood(register_of(cells | {name: ["p", "p"]})).copies == 1


def test_a_later_file_that_carries_a_core_on_repeats_no_id():
    first, second = register_of(rows(2), path="06.csv"), register_of(rows(2, road="Mill"), path="07.csv")
    assert understood(first, second).repeated_ids == 0


def test_dates_in_the_wrong_order_and_sizes_deeper_than_wide_are_counted():
    cells = rows(3, dia=["450", "200", "450"], depth=["200", "450", "450"],
                 cut=["2026-04-02", "2026-04-02", ""], done=["2026-04-01", "2026-04-02", "2026-04-03"])  # fmt: skip
    facts = understood(register_of(cells, columns={"opened_on": "cut", "reinstated_at": "done"}))
    # a core may be opened and reinstated on one day, and be as deep as wide
    assert (facts.dates_backwards, facts.dates_both) == (1, 2)
    assert (facts.deeper, facts.sizes_both) == (1, 3)


def test_rows_set_aside_say_which_file_they_are_in():
    aside = pd.DataFrame({"place": [1, 9], "reason": ["title", "total"], "text": ["Cores", "Total 12"]})
    facts = understood(register_of(rows(2), set_aside=aside), register_of(rows(1), path="07.csv"))
    assert facts.set_aside[["file", "place", "text"]].to_numpy().tolist() == [
        ["north.csv", 1, "Cores"], ["north.csv", 9, "Total 12"],
    ]  # fmt: skip


def test_units_have_what_they_were_taken_from():
    cells = rows(2) | {"Water (L)": ["1", "2"]}
    facts = understood(register_of(cells, columns={"water": "Water (L)"}))
    assert facts.column("water_l").units == (("L", "header"),)
    assert facts.column("diameter_mm").units == (("mm", "programme"),)


def test_the_order_of_dates_is_that_of_all_files_together():
    first = register_of(rows(1, cut="25/04/2026"), columns={"opened_on": "cut"}, day_first=True)
    second = register_of(rows(1, cut="2026-04-26"), path="b.csv", columns={"opened_on": "cut"}, day_first=True)
    evidence = understood(first, second).column("opened_on").evidence
    assert (evidence.order.day_first, evidence.settled_by) == (1, "setting")


def test_a_register_keeps_the_columns_that_have_a_value():
    facts = understood(register_of(rows(2, gang="", road="Quay"), columns={"crew": "gang", "street": "road"}))
    assert facts.kept == {"core_id", "diameter_mm", "depth_mm", "street"}
