"""Cells of our CSV files that no spreadsheet runs, at whatever sign it splits lines."""

import csv
import io
import re

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.publish.guarded_cells import header_cells, without_formulas
from pipeline.publish.tables import write_csv
from pipeline.spreadsheet_text import as_written, guarded

_LETTERS = "=+-@'\t\r\n;| \xa0\"\uff1d\uff0b\uff0d\uff20\uff01a1,. é"
_RUNS = re.compile(r"[=+\-@\uff1d\uff0b\uff0d\uff20]")
_NUMBER = re.compile(r"[+-][0-9]+([.,][0-9]+)?[ \xa0]*")


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        ("x;=1+1", "x;'=1+1"),
        ("x\t@SUM(A1)", "x\t'@SUM(A1)"),
        ("x|+1+cmd", "x|'+1+cmd"),
        ("x\n=1+1", "x\n'=1+1"),
        ("x\r\n-2+3", "x\r\n'-2+3"),
        ('x; "=1+1"', 'x;\' "=1+1"'),
        ("x;\uff1d1", "x;'\uff1d1"),
        ("=1;=2;=3", "'=1;'=2;'=3"),
        ("x;'=1", "x;''=1"),
        # numbers, and what no program splits at
        ("x;-3.5", "x;-3.5"),
        ("rain; -5; +2,5", "rain; -5; +2,5"),
        ("core-shallow;kerf-open", "core-shallow;kerf-open"),
        ("a, =b", "a, =b"),
        ("d=450; t=200", "d=450; t=200"),
    ],
)
def test_each_part_that_a_spreadsheet_would_run_has_an_apostrophe(cell, written):
    """OWASP, "CSV Injection": separators and quotation marks begin a new cell, so that each is to be guarded."""
    assert guarded(cell) == written
    assert without_formulas(pa.array([None, cell, "other"])).to_pylist() == [None, written, "other"]
    assert as_written(pd.Series([written, None, "it's"], dtype="str")).tolist()[0] == cell


@pytest.mark.parametrize("kind", [pa.string(), pa.large_string()])
@pytest.mark.parametrize("seed", range(60))
def test_whole_columns_are_guarded_as_each_cell_alone(seed, kind):
    random = np.random.default_rng(seed)
    letters = np.array(list(_LETTERS))
    cells = ["".join(random.choice(letters, random.integers(0, 7))) for _ in range(40)]
    column = pa.array([None if random.random() < 0.1 else cell for cell in cells], kind)[int(random.integers(0, 5)) :]
    wanted = [None if cell is None else guarded(cell) for cell in column.to_pylist()]
    assert without_formulas(column).to_pylist() == wanted
    assert without_formulas(pa.chunked_array([column, column])).to_pylist() == 2 * wanted
    assert header_cells([cell or "" for cell in wanted]) == [guarded(cell or "") for cell in wanted]


@given(st.lists(st.text(alphabet=_LETTERS, max_size=8), min_size=1))
def test_what_was_guarded_is_read_back_as_it_was(cells):
    written = [guarded(cell) for cell in cells]
    assert as_written(pd.Series(written, dtype="str")).tolist() == cells


@given(st.lists(st.text(alphabet=_LETTERS, max_size=8), min_size=2, max_size=2), st.sampled_from(",;|\t"))
def test_no_cell_of_a_file_runs_wherever_its_lines_are_split(tmp_path_factory, cells, separator):
    """Read by another program's rules, as a spreadsheet of another country's settings would: quotation marks too."""
    place = tmp_path_factory.getbasetemp() / "split.csv"
    write_csv(pd.DataFrame({"n": [1], "a": cells[:1], "b": cells[1:]}), place)
    text = place.read_bytes().decode()
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    for cell in [cell for line in lines for cell in line]:
        # what is left of a quotation mark or of the next cells of ours ends no number
        assert not _RUNS.match(cell) or _NUMBER.match(cell), (cell, text)
