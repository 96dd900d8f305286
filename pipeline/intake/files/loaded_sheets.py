"""Sheets of a workbook loaded into memory, with their headers found."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook, PasswordError, SheetTypeEnum

from pipeline.errors import InputError
from pipeline.intake.files.header_rows import Head, Wanted, find_head
from pipeline.intake.files.sheet_xml import SheetFacts, scan_sheet
from pipeline.intake.files.workbook_limits import (
    DAMAGED,
    damaged,
    refuse_if_it_aborts,
    refuse_too_large,
    refuse_unusable,
)

__all__ = ["WITH_XML", "Sheet", "load_sheet", "opened_workbook"]

WITH_XML: Final = (".xlsx", ".xlsm")
# formats that store each cell once: none of their sheets is larger than its file
_COMPACT: Final = (".xls",)


@dataclass
class Sheet:
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


@contextmanager
def opened_workbook(path: Path, label: str) -> Iterator[CalamineWorkbook]:
    """Open a workbook; what the library finds wrong with it becomes an error that names the file.

    Raises
    ------
    InputError
        The file is not a workbook, is protected or damaged.
    """
    refuse_unusable(path, label)
    try:
        yield CalamineWorkbook.from_path(str(path))
    except PasswordError as error:
        raise InputError(
            f"{label}: the workbook is protected by a password. Save a copy without one, or export the sheet as CSV."
        ) from error
    except (CalamineError, IndexError, *DAMAGED) as error:
        raise damaged(label, error) from error


def load_sheet(book: CalamineWorkbook, path: Path, label: str, number: int, wanted: Wanted) -> Sheet | None:
    """Return a sheet with its header; None for one without cells. Checks first that it fits in memory."""
    suffix, name = path.suffix.lower(), book.sheet_names[number]
    if book.sheets_metadata[number].typ != SheetTypeEnum.WorkSheet:
        return None
    facts = scan_sheet(path, number) if suffix in WITH_XML else None
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
    return None if head is None else Sheet(name, rows, first_row, head, facts or SheetFacts())


def _cells(sheet: CalamineSheet, label: str, name: str) -> list[list[Any]]:
    """Return the cells of a sheet."""
    try:
        with _library_silenced():
            cells: list[list[Any]] = sheet.to_python()
    except BaseException as error:
        if not _is_out_of_range(error):
            raise
        raise InputError(
            f"{label}: sheet {name!r}, row {_row_out_of_range(sheet):,}: a number in the format of a date or a "
            "duration is out of range. Correct the cell, or format it as a number."
        ) from error
    return cells


def _row_out_of_range(sheet: CalamineSheet) -> int:
    """Return the row of the sheet whose cells cannot be read."""
    read = 0
    rows = iter(sheet.iter_rows())
    try:
        with _library_silenced():
            while next(rows, None) is not None:
                read += 1
    except BaseException as error:
        if not _is_out_of_range(error):
            raise
    return (sheet.start or (0, 0))[0] + read + 1


@contextmanager
def _library_silenced() -> Iterator[None]:
    """Keep from the terminal what the library writes there itself, with paths of the machine it was built on."""
    with Path(os.devnull).open("w") as nowhere:
        try:
            screen = os.dup(2)
        except OSError:
            # there is none
            yield
            return
        try:
            os.dup2(nowhere.fileno(), 2)
            yield
        finally:
            os.dup2(screen, 2)
            os.close(screen)


def _is_out_of_range(error: BaseException) -> bool:
    # the library's own error for the largest numbers is no Exception, and has no name that can be imported
    return isinstance(error, OverflowError) or type(error).__name__ == "PanicException"
