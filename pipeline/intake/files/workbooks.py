"""Workbooks: which sheet is the table, and its cells as a raw table."""

from itertools import chain
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa

from pipeline.intake.files.header_rows import ANY_TABLE, Wanted
from pipeline.intake.files.loaded_sheets import WITH_XML, Sheet, opened_workbook
from pipeline.intake.files.sheet_cells import as_texts, written_cell
from pipeline.intake.files.sheet_choice import chosen_sheet
from pipeline.intake.files.sheet_xml import counts_from_1904
from pipeline.intake.files.table_body import Body, as_raw_table, no_cores
from pipeline.intake.files.tables import RawTable, unique_names
from pipeline.wording import counted

__all__ = ["read_sheet"]


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
    with opened_workbook(path, label) as book:
        choice = chosen_sheet(book, path, label, sheet, wanted)
        is_1904 = path.suffix.lower() in WITH_XML and counts_from_1904(path)
    found = choice.sheet
    notices: list[str] = []
    if choice.others:
        names = ", ".join(repr(name) for name in choice.others)
        notices.append(f"{label}: sheet {found.name!r} is read, its header in row {found.line:,}; not read: {names}.")
    notices.extend(_notices(found, label))
    own_label = f"{label}, sheet {found.name}" if choice.is_one_of_several and wanted.sets_aside else label
    table = _as_table(found, own_label, wanted, notices)
    table.is_1904 = is_1904
    table.sheet, table.header_place = found.name, found.line
    if not found.head.holds_all:
        table.hint = (
            f"Row {found.line:,} of sheet {found.name!r} was taken for the header; if it is another row or sheet, set "
            f"{wanted.section}.header_row or {wanted.section}.layer."
        )
    return table


def _notices(sheet: Sheet, label: str) -> list[str]:
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


def _as_table(sheet: Sheet, label: str, wanted: Wanted, notices: list[str]) -> RawTable:
    """Return the rows under the header as a raw table."""
    head, rows = sheet.head, sheet.rows
    blank = [""] * len(head.names)
    numbers = [number for number in range(head.bottom + 1, len(rows)) if rows[number] != blank]
    if not numbers:
        raise no_cores(label, "a header and no rows", "Save it again with the data.", is_known=head.holds_all)
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
    body = Body(frame, places, above, empty, head.texts, stored_as_number=stored, is_known=head.holds_all)
    table = as_raw_table(body, label, wanted, notices)
    if not wanted.sets_aside and table.places is not None:
        # blank rows count, so that a row number leads to the row in the sheet
        table.rows = table.places - sheet.line
    return table
