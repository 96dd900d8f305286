"""The report on what registers and crews record."""

from dataclasses import replace

import pandas as pd

from pipeline.publish.report.completeness import record_tables
from pipeline.publish.words import words_of
from tests.publish.report.pages import text_of

_WORDS = words_of("en")


def _row(by, group, column, kept, counts, share, applies_to="reinstated"):
    filled, unreadable, empty = counts
    return {
        "by": by, "group": group, "column": column, "applies_to": applies_to, "cores": sum(counts) or 10, "kept": kept,
        "filled": filled, "unreadable": unreadable, "empty": empty, "share_filled": share,
    }  # fmt: skip


def _tables(demo, *rows):
    return record_tables(replace(demo, audit=replace(demo.audit, completeness=pd.DataFrame(list(rows)))), _WORDS)


def test_a_column_that_a_register_does_not_keep_is_told_from_one_left_empty(demo):
    rows = _tables(
        demo,
        _row("register", "north", "water_l", "no", (0, 0, 0), float("nan")),
        _row("register", "south", "water_l", "yes", (6, 1, 3), 0.6),
        _row("register", "south", "plated_on", "yes", (2, 0, 8), float("nan"), "open"),
        _row("register", "south", "position", "yes", (10, 0, 0), 1.0, "all"),
    )["record_columns"]
    shown = [
        [text_of(str(row[key])) for key in ("register", "column", "among", "kept", "share", "empty")] for row in rows
    ]
    assert shown == [
        ["north", "Water used", "reinstated cores", "no", "", ""],
        ["south", "Water used", "reinstated cores", "yes", "60.0%", "3"],
        ["south", "Plated", "open cores", "yes", "may be empty", "8"],
        ["south", "Position", "all cores", "yes", "100.0%", "0"],
    ]


def test_a_crew_is_asked_only_for_what_its_register_keeps_and_must_hold(demo):
    """6 of 10 and 10 of 10 cells: 80 %; a date that may be empty and a column that is not kept count for nothing."""
    (row,) = _tables(
        demo,
        _row("crew", "A", "water_l", "yes", (6, 1, 3), 0.6),
        _row("crew", "A", "bags_used", "yes", (10, 0, 0), 1.0),
        _row("crew", "A", "plated_on", "yes", (2, 0, 8), float("nan")),
        _row("crew", "A", "bedding_mm", "no", (0, 0, 0), float("nan")),
    )["record_crews"]
    assert [text_of(str(row[key])) for key in ("crew", "share", "filled", "unreadable", "empty")] == [
        "A", "80.0%", "16", "1", "3",
    ]  # fmt: skip


def test_the_rest_of_a_long_table_is_counted(demo):
    rows = [_row("register", f"R{at:02}", "water_l", "yes", (5, 0, 5), 0.5) for at in range(62)]
    shown = _tables(demo, *rows)
    assert (len(shown["record_columns"]), shown["record_columns_left"]) == (60, 2)
