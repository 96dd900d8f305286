"""A column and what follows from it: names, units, titles, and the cells kept beside it."""

import pytest

from pipeline.contracts import AS_WRITTEN, Column, cell_columns, names_of


@pytest.mark.parametrize(
    ("name", "unit", "short", "shown", "title"),
    [
        ("diameter_mm", "mm", "diameter", "mm", "Size (mm)"),
        ("water_l", "L", "water", "L", "Size (L)"),
        ("air_temperature_c", "degC", "air_temperature", "°C", "Size (°C)"),
        ("cover_m", "m", "cover", "m", "Size (m)"),
        ("segment_area_m2", "m²", "segment_area_m2", "m²", "Size (m²)"),
        ("crew", "", "crew", "", "Size"),
        # the end of a name is a unit only where the column has that unit
        ("room_m", "", "room_m", "", "Size"),
    ],
)
def test_programmes_leave_the_unit_out_of_a_name_and_people_read_it_in_brackets(name, unit, short, shown, title):
    column = Column(name, "number", unit, "Size")
    assert (column.short, column.shown_unit, column.title) == (short, shown, title)


def test_a_column_is_published_under_its_own_name_unless_it_has_another():
    assert Column("crew", "text").published == "crew"
    assert Column("street_matched", "text", published_as="street").published == "street"
    assert names_of([Column("b", "text"), Column("a", "text", published_as="c")]) == ("b", "c")


@pytest.mark.parametrize("kind", ["number", "instant"])
def test_a_column_that_is_read_keeps_its_cells_and_why_one_was_not_read(kind):
    column = Column("permit_expires_on", kind, "", "Permit expiry")
    text, problem, *_ = cell_columns(column)
    assert (text.name, text.kind, text.cell_of) == (column.text_name, "text", "permit_expires_on")
    assert (text.name, problem.name) == ("permit_expires_on_text", "permit_expires_on_problem")
    assert text.label == "Permit expiry, as written"
    # the reason is a word of the program's own, and a cell may hold anything
    assert problem.reveals == ()
    assert text.reveals is None
    assert AS_WRITTEN not in {text.name, problem.name}


@pytest.mark.parametrize(
    ("name", "unit", "step"),
    [
        ("water_l", "L", "water_step_l"),
        ("air_temperature_c", "degC", "air_temperature_step_c"),
        ("bags_used", "", "bags_used_step"),
    ],
)
def test_a_number_keeps_the_step_it_was_written_to_in_its_own_unit(name, unit, step):
    kept = cell_columns(Column(name, "number", unit, "Size"))[-1]
    assert (kept.name, kept.kind, kept.unit) == (step, "number", unit)
    # how finely someone writes reveals nothing of what was written
    assert kept.reveals == ()


def test_a_date_has_no_step():
    assert len(cell_columns(Column("opened_on", "instant", "", "Opened"))) == 2


def test_a_text_column_is_taken_as_it_is():
    assert cell_columns(Column("crew", "text", "", "Crew")) == ()
