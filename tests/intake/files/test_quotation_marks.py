"""Quotation marks that take in other cells or rows are refused with line and column; notes and inch marks are read."""

import csv
import io
import random

import numpy as np
import pandas as pd
import pytest

from pipeline.errors import InputError
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.quotation_marks import Rows, refuse_open_quotes
from pipeline.programme.settings import Cores

HEADER = "id,cut,dia,street,crew,note,plate\n"
ROW = "PM-1,2026-01-01,450,Elm St,Red,,\n"


def _read(tmp_path, text, **settings):
    (tmp_path / "cores.csv").write_text(text)
    return read_raw(Cores(path="cores.csv", **settings), tmp_path, "cores", None)


def _refused(tmp_path, text, **settings):
    with pytest.raises(InputError) as error:
        _read(tmp_path, text, **settings)
    return str(error.value)


def test_a_cell_of_several_lines_that_holds_other_rows_is_refused():
    frame = pd.DataFrame({"id": ["1", "4"], "a": ["x", "y"], "b": ["p", "q"]}, dtype="str")
    rows = Rows(["id", "a", "b"], ",", np.array([2, 4]), "a.csv")
    refuse_open_quotes(frame.assign(a=["x\ny", "z"]), rows)
    with pytest.raises(InputError, match="line 2, column 'a': a quotation mark opens a cell that spans 2 lines"):
        refuse_open_quotes(frame.assign(a=["y,p\n5,x,q", "z"]), rows)


@pytest.mark.parametrize("mark", [",", ";", "\t", "|", "^", " ", "x"])
def test_an_open_quotation_mark_that_an_inch_mark_of_the_next_row_closes_is_refused(tmp_path, mark):
    text = f'{HEADER}{ROW}PM-2,2026-01-01,18",Elm St,Red,"loose,\nPM-3,2026-01-01,1\'6",Oak St,Red,,plate\n{ROW}'
    said = _refused(tmp_path, text.replace(",", mark).replace("Elm St", "Elm"), delimiter=mark)
    assert said == (
        "cores.csv: line 3, column 'note': a quotation mark opens a cell that spans 2 lines and takes in other rows. "
        'Close it, or write "" for a quotation mark inside a quoted cell.'
    )


@pytest.mark.parametrize(
    ("rows", "column"),
    [
        # opened in the last column, in the street, in the id
        ('PM-2,2026-01-01,18",Elm St,Red,,"plate\nPM-3,2026-01-01,18",Oak St,Red,,\n', "plate"),
        ('PM-2,2026-01-01,450,"Elm St,Red,,\nPM-3,2026-01-01,18",Oak St,Red,,\n', "street"),
        ('"PM-2,2026-01-01,450,Elm St,Red,,\nPM-3",2026-01-01,18",Oak St,Red,,\n', "id"),
        # the cells beyond the header are blank
        ('PM-2,2026-01-01,450,Elm St,Red,,"plate\nPM-3,2026-01-01,450,Oak St,8\',6",\n', "plate"),
        # closed by the quotation mark that opens the next id, or a note
        ('"PM-2","2026-01-01","450","Elm","Red","","plate\n"PM-3","2026-01-01","450","Oak","Red","",""\n', "plate"),
        ('PM-2,2026-01-01,450,Elm,Red,"loose,\nPM-3,2026-01-01,450,Oak,Red,"gone, too",\n', "note"),
        # the row that is taken in has too few cells
        ('PM-2,2026-01-01,450,Elm,Red,"loose,\nPM-3,2026-01-01,18" deep\n', "note"),
    ],
)
def test_an_open_quotation_mark_is_named_wherever_it_is(tmp_path, rows, column):
    said = _refused(tmp_path, HEADER + ROW + rows + ROW)
    assert f"line 3, column '{column}': a quotation mark opens a cell that spans 2 lines" in said


def test_the_first_of_two_open_quotation_marks_is_named(tmp_path):
    two = 'PM-2,2026-01-01,18",Elm St,Red,"loose,\nPM-3,2026-01-01,18",Oak St,Red,,plate\n'
    assert "line 3, column 'note'" in _refused(tmp_path, HEADER + ROW + two + ROW + two)


@pytest.mark.parametrize(
    "note",
    [
        '"first line\nsecond line, of one note\nthird"',
        '"a 6"" plate,\nthen an 8"" plate"',
        '"\n"',
        '"""quoted""\nand not"',
        # a table in a note
        '"size, count\n18, 2"',
    ],
)
@pytest.mark.parametrize("at", [0, 1, 5, 6])
@pytest.mark.parametrize("ending", ["", ",", ",,,"])
def test_a_note_of_several_lines_is_read_in_any_column_and_with_blank_cells_beyond_the_header(
    tmp_path, note, at, ending
):
    cells = ["PM-2", "2026-01-01", '18"', "Elm St", "Red", "", ""]
    cells[at] = note
    table = _read(tmp_path, HEADER + ROW + ",".join(cells) + ending + "\n" + ROW)
    assert table.frame.iloc[1, at] == note[1:-1].replace('""', '"')
    assert len(table.frame) == 3
    assert not table.ragged.notna().any()


def test_text_after_the_quotation_mark_that_closes_a_note_of_several_lines_is_refused(tmp_path):
    row = 'PM-2,2026-01-01,"17 1/2""",Elm St,Red,"a\nb"'
    assert len(_read(tmp_path, f"{HEADER}{ROW}{row},\n{ROW}").frame) == 3
    assert _refused(tmp_path, f"{HEADER}{ROW}{row} c,\n{ROW}") == (
        "cores.csv: line 3, column 'note': a quotation mark opens a cell that spans 2 lines, and text follows the "
        'quotation mark that closes it. Close it, or write "" for a quotation mark inside a quoted cell.'
    )


def test_a_note_of_several_lines_in_a_row_with_too_many_cells_is_refused(tmp_path):
    said = _refused(tmp_path, f'{HEADER}{ROW}PM-2,2026-01-01,450,Elm St, North,Red,"a\nb",plate\n')
    assert "column 'plate': a quotation mark opens a cell that spans 2 lines, and its row has 8 cells where" in said


def test_a_quotation_mark_for_ditto_is_refused_where_it_takes_in_the_next_cell(tmp_path):
    said = _refused(tmp_path, f'{HEADER}{ROW}PM-2,2026-01-01,",Elm St,8" main,,\n{ROW}')
    assert said == (
        "cores.csv: line 3, column 'dia': the cell is a single quotation mark, which takes in the next cell. Write the "
        "value that it stands for, or leave the cell blank."
    )


def test_a_quotation_mark_that_is_closed_in_another_cell_of_its_row_or_never_is_refused(tmp_path):
    how = "a quotation mark opens a cell and takes in the next cell"
    assert f"line 3, column 'street': {how}" in _refused(
        tmp_path, f'{HEADER}{ROW}PM-2,2026-01-01,450,"Elm St,Red,8" main,\n{ROW}'
    )
    assert f"line 3, column 'note': {how}" in _refused(tmp_path, f'{HEADER}{ROW}PM-2,2026-01-01,450,Elm,Red,"loose,\n')


def test_quotation_marks_that_are_not_doubled_are_counted(tmp_path):
    def quoted(line):
        return ",".join(f'"{cell}"' for cell in line.split(","))

    good = HEADER.strip(), ROW.strip(), "PM-2,2026-01-01,450,Elm St,Red,,"
    bad = ['PM-3,2026-01-01,18",Elm St,Red,,', 'PM-4,2026-01-01,18",Elm St,Red,6\' 6",plate']
    said = _refused(tmp_path, "\n".join(map(quoted, [*good, *bad])))
    assert said == (
        "cores.csv: in 2 of 4 rows the cells do not fit the header, first in line 4, column 'dia': a quotation mark "
        '(such as an inch mark) inside quotation marks must be doubled. Export the file again so that 6" is written '
        '"6""", or without quotation marks around the cells.'
    )
    doubled = [line.replace('"', '""') for line in bad]
    assert _read(tmp_path, "\n".join(map(quoted, [*good, *doubled]))).frame["dia"].tolist()[2:] == ['18"', '18"']


def test_a_note_that_a_quotation_mark_closes_too_early_is_refused(tmp_path):
    row = 'PM-2,2026-01-01,450,Elm St,Red,"an 18" plate, loose",plate\n'
    assert "in 1 of 2 rows the cells do not fit the header, first in line 3, column 'note'" in _refused(
        tmp_path, HEADER + ROW + row
    )


@pytest.mark.parametrize(
    "row",
    [
        # too few or too many cells for another reason
        'PM-2,2026-01-01,18",Elm St',
        'PM-2,2026-01-01,18",Elm St,Red,"a, b"',
        'PM-2,2026-01-01,18",Elm St,Red,"a, b",plate,6"',
        'PM-2,2026-01-01,"18"" hole",Elm St, North,Red,,plate',
        '"End" of part 1',
    ],
)
def test_a_row_that_does_not_fit_for_another_reason_is_kept(tmp_path, row):
    table = _read(tmp_path, HEADER + ROW + row + "\n" + ROW)
    assert table.ragged.notna().tolist() == [False, True, False]


def _rows(draw):
    """Twelve rows as a crew writes them, inch marks and blank cells among them."""
    choices = (
        ("2026-01-01", ""),
        ('18"', "450", "1'6\"", ""),
        ("Elm St", "Oak"),
        ("Red", ""),
        ("", 'an 18" plate'),
        ("", "x"),
    )
    return [[f"PM-{number}", *map(draw.choice, choices)] for number in range(12)]


@pytest.mark.parametrize("seed", range(60))
def test_no_row_is_lost_to_a_quotation_mark_wherever_it_is_typed(tmp_path, seed):
    draw = random.Random(seed)
    rows = _rows(draw)
    cells = rows[draw.randrange(12)]
    at = draw.randrange(7)
    cells[at] = '"' + cells[at]
    try:
        table = _read(tmp_path, HEADER + "\n".join(map(",".join, rows)) + "\n")
    except InputError as error:
        assert "quotation mark" in str(error)  # noqa: PT017 - either outcome is right
    else:
        assert len(table.frame) == 12


@pytest.mark.parametrize("seed", range(60))
def test_no_well_formed_file_is_refused(tmp_path, seed):
    draw = random.Random(seed)
    rows = _rows(draw)
    for _ in range(3):
        draw.choice(rows)[draw.randrange(3, 7)] = draw.choice(("a\nb", 'a, b\nc, "d"', '"', "\n", "x, y", '"q" z'))
    if draw.random() < 0.4:
        # blank cells beyond the header
        rows = [[*cells, "", ""] for cells in rows]
    written = io.StringIO()
    csv.writer(written, quoting=draw.choice((csv.QUOTE_MINIMAL, csv.QUOTE_ALL)), lineterminator="\n").writerows(rows)
    table = _read(tmp_path, HEADER + written.getvalue())
    assert table.frame.fillna("").to_numpy().tolist() == [cells[:7] for cells in rows]
