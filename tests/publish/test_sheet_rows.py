"""Sheets whose rows are written as whole columns, beside the same sheets written cell by cell."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from xlsxwriter.worksheet import Worksheet

from pipeline.publish import tables
from pipeline.publish.sheet_cells import Cells
from pipeline.publish.tables import write_workbook

WORDS = ["a", "", "two words", "  spaced  ", "tab\there", "line\nbreak", "<b>&amp;\"'", "\x01control", "ümläut", "_x0041_",
         "emoji 😀 text", "x" * 90, "long words " * 30]  # fmt: skip


class OneByOne(Worksheet):
    """The same sheet by the library alone: every cell by itself, every row with its height."""

    def add_column(self, cells: Cells, text_format, number_format):
        self.columns = [*getattr(self, "columns", []), cells]
        for row, (text, number) in enumerate(zip(cells.text_codes, cells.number_codes, strict=True), start=1):
            if text >= 0:
                self.write_string(row, len(self.columns) - 1, cells.texts[text], text_format)
            elif number >= 0:
                self.write_number(row, len(self.columns) - 1, float(cells.numbers[number]), number_format)

    def set_lines(self, lines):
        for row, count in enumerate(lines, start=1):
            if count > 1:
                self.set_row(row, 15 * int(count))


def _column(random, rows, kind):
    missing = random.random(rows) < random.choice([0.0, 0.3, 1.0])
    if kind == "text":
        return pd.Series(random.choice(np.array(WORDS, dtype=object), rows), dtype="str").mask(missing)
    if kind == "whole":
        return pd.Series(random.integers(-5, 10**7, rows)).astype("Int64").mask(missing)
    if kind == "any":
        cells = [random.choice(np.array(["x y", 3, 2.5, None], dtype=object)) for _ in range(rows)]
        return pd.Series(cells, dtype=object)
    if kind == "day":
        return pd.Series(pd.Timestamp("2026-08-03") + pd.to_timedelta(random.integers(0, 9, rows), "D")).mask(missing)
    values = random.choice([0.0, -0.0, 1 / 3, 1e17, 12345.678, -2.5e-9, 7.0], rows)
    return pd.Series(values).mask(missing)


def _tables(seed):
    random = np.random.default_rng(seed)
    kinds = ["text", "float", "whole", "any", "day"]
    found = {}
    for sheet in range(3):
        rows = int(random.choice([0, 1, 7, 40]))
        chosen = random.choice(kinds, random.integers(1, 6))
        found[f"sheet {sheet}"] = pd.DataFrame(
            {f"{kind} {at}" + " heading" * at: _column(random, rows, kind) for at, kind in enumerate(chosen)}
        )
    return found


@pytest.mark.parametrize("seed", range(40))
def test_a_workbook_has_the_bytes_that_the_library_makes_of_it_cell_by_cell(seed, tmp_path, monkeypatch):
    book = _tables(seed)
    below = {"sheet 1": ["A line under the table, long enough to be wrapped where the table is narrow. " * 4]}
    reminder = "Lift by machine." if seed % 2 else ""

    def write(name):
        write_workbook(book, "Town", dt.date(2026, 9, 30), tmp_path / name, ["a note"], reminder, below)

    write("columns.xlsx")
    monkeypatch.setattr(tables, "TableSheet", OneByOne)
    write("cells.xlsx")
    assert (tmp_path / "columns.xlsx").read_bytes() == (tmp_path / "cells.xlsx").read_bytes()


def test_a_long_table_is_put_together_in_parts(tmp_path, monkeypatch):
    table = {"long": pd.DataFrame({"n": np.arange(50), "t": pd.Series([f"t{at}" for at in range(50)], dtype="str")})}
    write_workbook(table, "Town", dt.date(2026, 9, 30), tmp_path / "whole.xlsx")
    monkeypatch.setattr("pipeline.publish.sheet_rows._ROWS", 7)
    write_workbook(table, "Town", dt.date(2026, 9, 30), tmp_path / "parts.xlsx")
    assert (tmp_path / "whole.xlsx").read_bytes() == (tmp_path / "parts.xlsx").read_bytes()


def test_a_text_longer_than_a_cell_takes_is_cut_as_the_library_cuts_it(tmp_path, monkeypatch):
    book = {"long": pd.DataFrame({"t": pd.Series(["😀" * 20_000, "x" * 40_000, "y" * 20_000], dtype="str")})}
    write_workbook(book, "Town", dt.date(2026, 9, 30), tmp_path / "columns.xlsx")
    monkeypatch.setattr(tables, "TableSheet", OneByOne)
    write_workbook(book, "Town", dt.date(2026, 9, 30), tmp_path / "cells.xlsx")
    assert (tmp_path / "columns.xlsx").read_bytes() == (tmp_path / "cells.xlsx").read_bytes()
