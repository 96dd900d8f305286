"""Sheets of a workbook loaded into memory, with their headers found."""

import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook, PasswordError, SheetTypeEnum

from pipeline.errors import InputError
from pipeline.intake.files.header_rows import Head, Wanted, find_head
from pipeline.intake.files.sheet_xml import SheetFacts, scan_sheet
from pipeline.intake.files.workbook_limits import damaged, refuse_if_it_aborts, refuse_too_large, refuse_unusable

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
    except (CalamineError, OSError, ValueError, IndexError, EOFError, zipfile.BadZipFile, NotImplementedError) as error:
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
            f"{label}: row {wanted.header_row:,} of sheet {name!r} is blank or beyond the table, expected the header "
            f"there. Correct {wanted.section}.header_row."
        )
    head = find_head(rows, merges, wanted, row_set)
    return None if head is None else Sheet(name, rows, first_row, head, facts or SheetFacts())


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
