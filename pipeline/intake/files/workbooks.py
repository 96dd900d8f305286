"""Workbooks: which sheet is the table, and its cells as a raw table."""

import zipfile
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
import pyarrow as pa
from python_calamine import (
    CalamineError,
    CalamineSheet,
    CalamineWorkbook,
    PasswordError,
    SheetTypeEnum,
    SheetVisibleEnum,
)

from pipeline.errors import InputError
from pipeline.intake.files.header_rows import ANY_TABLE, Head, Wanted, find_head
from pipeline.intake.files.sheet_cells import as_texts, written_cell
from pipeline.intake.files.sheet_xml import SheetFacts, counts_from_1904, scan_sheet
from pipeline.intake.files.table_body import Body, as_raw_table
from pipeline.intake.files.tables import RawTable, unique_names
from pipeline.intake.files.workbook_limits import damaged, refuse_if_it_aborts, refuse_too_large, refuse_unusable
from pipeline.wording import counted

__all__ = ["read_sheet"]

_WITH_XML: Final = (".xlsx", ".xlsm")
# formats that store each cell once: none of their sheets is larger than its file
_COMPACT: Final = (".xls",)
_NAMES_SHOWN: Final = 8


@dataclass
class _Sheet:
    """A sheet as read: ``rows`` of cells, the 1-based ``first_row`` of them in the sheet, and its header."""

    name: str
    rows: list[list[Any]]
    first_row: int
    head: Head
    facts: SheetFacts

    @property
    def line(self) -> int:
        """Return the 1-based row of the sheet that the names are in."""
        return self.first_row + self.head.bottom


def read_sheet(path: Path, label: str, sheet: str | None, wanted: Wanted = ANY_TABLE) -> RawTable:
    """Return one sheet of a workbook.

    Without a name it is the visible sheet that holds the names wanted, or else the only visible one that is not blank.
    A hidden sheet has to be named. Hidden rows and columns are read like others, and reported.

    Parameters
    ----------
    path, label
        The file, and its name in errors.
    sheet
        Name of the sheet; None finds it.
    wanted
        What the header has to hold; without names the first filled row is the header.

    Raises
    ------
    InputError
        The file is not a workbook, is protected or damaged, has no such sheet or no rows, or several sheets could be
        meant.
    """
    refuse_unusable(path, label)
    try:
        book = CalamineWorkbook.from_path(str(path))
        found, others = _chosen(book, path, label, sheet, wanted)
        is_1904 = path.suffix.lower() in _WITH_XML and counts_from_1904(path)
    except PasswordError as error:
        raise InputError(
            f"{label}: the workbook is protected by a password. Save a copy without one, or export the sheet as CSV."
        ) from error
    except (CalamineError, OSError, ValueError, IndexError, EOFError, zipfile.BadZipFile, NotImplementedError) as error:
        raise damaged(label, error) from error
    notices: list[str] = []
    if others:
        names = ", ".join(repr(name) for name in others)
        notices.append(f"{label}: sheet {found.name!r} is read, its header in row {found.line:,}; not read: {names}.")
    notices.extend(_notices(found, label))
    table = _as_table(found, label, wanted, notices)
    table.is_1904 = is_1904
    if not found.head.holds_all:
        table.hint = (
            f"Row {found.line:,} of sheet {found.name!r} was taken for the header; if it is another row or sheet, set "
            f"{wanted.section}.header_row or {wanted.section}.layer."
        )
    return table


def _chosen(
    book: CalamineWorkbook, path: Path, label: str, wanted_name: str | None, wanted: Wanted
) -> tuple[_Sheet, list[str]]:
    """Return the sheet to read, and the names of the other visible ones that are not blank."""
    sheets = list(enumerate(book.sheets_metadata))
    if wanted_name is not None:
        numbers = [number for number, sheet in sheets if sheet.name == wanted_name]
        if not numbers:
            names = ", ".join(sheet.name for _, sheet in sheets)
            raise InputError(
                f"{label}: no sheet {wanted_name!r}; the workbook has: {names}. Correct {wanted.section}.layer."
            )
        named = _load(book, path, label, numbers[0], wanted)
        if named is None:
            raise InputError(f"{label}: sheet {wanted_name!r} holds no cells. Correct {wanted.section}.layer.")
        return named, []
    visible = [number for number, sheet in sheets if sheet.visible == SheetVisibleEnum.Visible]
    tables = [number for number in visible if sheets[number][1].typ == SheetTypeEnum.WorkSheet]
    if not tables:
        names = ", ".join(repr(sheet.name) for _, sheet in sheets)
        what = "only charts" if visible else "only hidden sheets"
        raise InputError(
            f"{label}: the workbook has {what} ({names}), expected a visible sheet with one row per core. Name a "
            f"sheet in {wanted.section}.layer, or save the table in the workbook."
        )
    loaded = [sheet for number in tables if (sheet := _load(book, path, label, number, wanted)) is not None]
    serving = [sheet for sheet in loaded if sheet.head.holds_all]
    candidates = serving or loaded
    if not candidates:
        raise InputError(f"{label}: every visible sheet is blank; expected one row per core. Save it with the data.")
    if len(candidates) > 1:
        heads = "; ".join(f"{sheet.name!r} (row {sheet.line:,}: {_shown(sheet.head.names)})" for sheet in candidates)
        why = "hold every column that is expected" if serving else "do not hold every column that is expected"
        remedy = (
            f"Name the sheet in {wanted.section}.layer."
            if wanted.sets_aside
            else "Keep one of them visible, or remove the others."
        )
        raise InputError(f"{label}: {len(candidates)} sheets {why}: {heads}. {remedy}")
    return candidates[0], [sheet.name for sheet in loaded if sheet is not candidates[0]]


def _shown(names: list[str]) -> str:
    """Return the first names of a header."""
    filled = [name for name in names if name]
    return ", ".join(filled[:_NAMES_SHOWN]) + (", ..." if len(filled) > _NAMES_SHOWN else "")


def _load(book: CalamineWorkbook, path: Path, label: str, number: int, wanted: Wanted) -> _Sheet | None:
    """Return a sheet with its header; None for one without cells. Checks first that it fits in memory."""
    suffix, name = path.suffix.lower(), book.sheet_names[number]
    if book.sheets_metadata[number].typ != SheetTypeEnum.WorkSheet:
        return None
    facts = scan_sheet(path, number) if suffix in _WITH_XML else None
    if facts is not None:
        refuse_too_large(facts, label, name)
    if suffix not in _COMPACT and (facts is None or not facts.is_certain):
        refuse_if_it_aborts(path, label, name, number)
    sheet = book.get_sheet_by_index(number)
    if sheet.start is None:
        return None
    rows = _cells(sheet, label, name)
    first_row, first_column = sheet.start[0] + 1, sheet.start[1] + 1
    for row, column, text in facts.replaced if facts is not None else ():
        # the last rows or columns may hold nothing but formulas without a value
        if 0 <= row - first_row < len(rows) and 0 <= column - first_column < len(rows[row - first_row]):
            rows[row - first_row][column - first_column] = text
    merges = [
        ((first[0] + 1 - first_row, first[1] + 1 - first_column), (last[0] + 1 - first_row, last[1] + 1 - first_column))
        for first, last in sheet.merged_cell_ranges or ()
    ]
    merges = [merge for merge in merges if min(merge[0]) >= 0]
    row_set = None if wanted.header_row is None else wanted.header_row - first_row
    if row_set is not None and not (0 <= row_set < len(rows) and any(cell != "" for cell in rows[row_set])):
        raise InputError(
            f"{label}: row {wanted.header_row:,} of sheet {name!r} is blank or beyond the table; expected the header "
            f"there. Correct {wanted.section}.header_row."
        )
    head = find_head(rows, merges, wanted, row_set)
    return None if head is None else _Sheet(name, rows, first_row, head, facts or SheetFacts())


def _cells(sheet: CalamineSheet, label: str, name: str) -> list[list[Any]]:
    """Return the cells of a sheet."""
    try:
        cells: list[list[Any]] = sheet.to_python()
    except OverflowError as error:
        read = 0
        try:
            for read, _ in enumerate(sheet.iter_rows(), start=1):  # noqa: B007 - counts the rows before the one that fails
                pass
        except OverflowError:
            pass
        row = (sheet.start or (0, 0))[0] + read + 1
        raise InputError(
            f"{label}: sheet {name!r}, row {row:,}: a number in the format of a date or a duration is out of range. "
            "Correct the cell, or format it as a number."
        ) from error
    return cells


def _notices(sheet: _Sheet, label: str) -> list[str]:
    """Return what a reader of the sheet in a spreadsheet program would not expect."""
    facts, notices = sheet.facts, []
    hidden = [
        counted(count, noun)
        for count, noun in ((facts.hidden_rows, "hidden row"), (facts.hidden_columns, "hidden column"))
        if count
    ]
    if hidden:
        verb = "is" if facts.hidden_rows + facts.hidden_columns == 1 else "are"
        notices.append(f"{label}: {' and '.join(hidden)} of sheet {sheet.name!r} {verb} read as well.")
    if facts.unstored:
        verb = "has" if len(facts.unstored) == 1 else "have"
        notices.append(
            f"{label}: {counted(len(facts.unstored), 'formula')} of sheet {sheet.name!r} {verb} no stored value, the "
            f"first in cell {facts.unstored[0]}. Open the workbook in a spreadsheet program and save it again."
        )
    return notices


def _as_table(sheet: _Sheet, label: str, wanted: Wanted, notices: list[str]) -> RawTable:
    """Return the rows under the header as a raw table."""
    head, rows = sheet.head, sheet.rows
    blank = [""] * len(head.names)
    numbers = [number for number in range(head.bottom + 1, len(rows)) if rows[number] != blank]
    if not numbers:
        raise InputError(f"{label}: a header and no rows; expected one row per core. Save it again with the data.")
    # every row has as many cells; slices of one list take half the time that zip does
    cells = list(chain.from_iterable(rows[number] for number in numbers))
    columns = [as_texts(cells[n :: len(head.names)]) for n in range(len(head.names))]
    # a column without a name and without a filled cell is none
    used = [n for n, (texts, _) in enumerate(columns) if head.names[n] or texts.null_count < len(texts)]
    names = unique_names([head.names[n] for n in used], label, notices)
    frame = pa.table({name: columns[n][0] for name, n in zip(names, used, strict=True)}).to_pandas()
    stored = pd.DataFrame({name: columns[n][1] for name, n in zip(names, used, strict=True)})
    above = [
        (sheet.first_row + number, " | ".join(text for cell in rows[number] if (text := written_cell(cell).strip())))
        for number in range(head.top)
        if any(str(cell).strip() for cell in rows[number])
    ]
    filled = set(numbers)
    filled.update(range(head.top, head.bottom + 1), (place - sheet.first_row for place, _ in above))
    empty = [sheet.first_row + n for n in range(numbers[-1]) if n not in filled]
    places = np.array(numbers, dtype=np.int64) + sheet.first_row
    body = Body(frame, places, above, empty, head.texts, stored_as_number=stored)
    table = as_raw_table(body, label, wanted, notices)
    if not wanted.sets_aside and table.places is not None:
        # blank rows count, so that a row number leads to the row in the sheet
        table.rows = table.places - sheet.line
    return table
