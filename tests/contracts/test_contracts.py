"""The contracts as a whole: each column described once, with all that people and programs need of it."""

import pytest

from pipeline.contracts import (
    AUDIT_COLUMNS,
    AUDIT_FRAME,
    AUDIT_TABLES,
    AUDITED_COLUMNS,
    CALIBRATED_COLUMNS,
    CORE_STATES,
    INTAKE_COLUMNS,
    INTAKE_TABLES,
    LOCATED_COLUMNS,
    MADE_FROM,
    ORDER_TABLES,
    PUBLISHED,
    QUANTIFIED_COLUMNS,
    REGISTER_COLUMNS,
    REGISTER_SYNONYMS,
    SPECIFIED_COLUMNS,
    STATUS_COUNTS,
    STATUSES,
    URGENCIES,
    shade_chances,
)

STAGES = (
    INTAKE_COLUMNS, LOCATED_COLUMNS, SPECIFIED_COLUMNS, CALIBRATED_COLUMNS, QUANTIFIED_COLUMNS, AUDITED_COLUMNS,
)  # fmt: skip
OF_CORES = [column for stage in STAGES for column in stage]
TABLES = {**INTAKE_TABLES, **AUDIT_TABLES, **ORDER_TABLES}
EVERY = [*OF_CORES, *STATUS_COUNTS, *(column for table in TABLES.values() for column in table)]
# the unit that a name ends with, and the unit of the column
SUFFIXES = {
    "_mm": "mm", "_m": "m", "_l": "L", "_kg": "kg", "_c": "degC", "_m2": "m²", "_percent": "%", "_min": "min",
}  # fmt: skip


def test_no_two_stages_add_a_column_of_the_same_name():
    names = [column.name for column in OF_CORES]
    assert sorted(set(names)) == sorted(names)


@pytest.mark.parametrize("table", TABLES)
def test_no_column_of_a_table_is_there_twice(table):
    names = [column.name for column in TABLES[table]]
    assert sorted(set(names)) == sorted(names)


def test_every_column_has_a_label_and_a_meaning_that_is_a_phrase():
    for column in EVERY:
        assert column.label[0].isupper() or column.label in {"p", "p, corrected"}, column.name
        assert column.meaning, column.name
        assert not column.meaning.endswith("."), column.name
        # a label is for people: no slug, and no unit beside the one that is added
        assert "_" not in column.label, column.name
        assert "(m" not in column.label, column.name


def test_the_unit_that_a_name_ends_with_is_the_columns_unit():
    for column in OF_CORES:
        ends = [unit for suffix, unit in SUFFIXES.items() if column.name.endswith(suffix)]
        assert column.kind != "number" or not ends or column.unit in ends, column.name


def test_columns_of_the_frame_of_cores_have_labels_that_differ():
    labels = [column.label for column in OF_CORES]
    assert sorted(set(labels)) == sorted(labels)


def test_figures_are_made_from_columns_that_there_are():
    for name, sources in MADE_FROM.items():
        assert set(sources) <= {*AUDIT_FRAME, "position"}, name


def test_a_synonym_of_a_programme_file_names_a_column_of_the_register():
    names = {column.name for column in REGISTER_COLUMNS}
    assert set(REGISTER_SYNONYMS.values()) <= names
    assert not set(REGISTER_SYNONYMS) & {column.short for column in REGISTER_COLUMNS}


def test_short_names_of_the_register_differ():
    shorts = [column.short for column in REGISTER_COLUMNS]
    assert sorted(set(shorts)) == sorted(shorts)


def test_a_rule_may_ask_for_everything_but_what_the_audit_itself_finds():
    names = {column.name for column in OF_CORES}
    assert names - AUDIT_COLUMNS == {"status", "findings", "urgency"}


def test_the_chances_of_shades_are_one_optional_column_per_shade_in_order():
    columns = shade_chances(["pale", "dark", "pale"])
    assert [column.name for column in columns] == ["shade_dark_chance", "shade_pale_chance"]
    assert all(column.optional and column.kind == "number" and column.reveals == () for column in columns)


def test_fixed_values_are_explained_each_once():
    lists = {column.name: dict(column.values) for column in EVERY if column.values}
    assert set(lists) == {"status", "side", "surface_from", "severity", "state", "urgency"}
    assert tuple(lists["status"]) == STATUSES
    assert tuple(lists["state"]) == CORE_STATES
    assert tuple(lists["urgency"]) == URGENCIES
    for column in EVERY:
        assert len(dict(column.values)) == len(column.values)


def test_only_what_is_published_can_be_handed_over():
    for column in OF_CORES:
        if column.handed != "on request" and column.name != "row":
            assert column.published in PUBLISHED
