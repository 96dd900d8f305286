"""The table of cores, and how any table is written: as CSV, Parquet or a sheet of a workbook."""

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import pandas as pd
import pyarrow as pa
import xlsxwriter
from pyarrow import compute as pc
from pyarrow import csv as arrow_csv
from pyarrow import parquet

from pipeline.contracts import CORE_TABLE, DATES_UNDERSTOOD, names_of, own_names
from pipeline.spreadsheet_text import FORMULA, PLAIN_NUMBER

__all__ = [
    "WORKBOOK_DATE", "as_cells", "core_table", "iso_texts", "rounded", "write_csv", "write_parquet", "write_workbook",
]  # fmt: skip

# decimal places in the tables whose columns state none
_DIGITS: Final = 6
# rows that a sheet has room for below its heading
_MOST_ROWS: Final = 1_048_575
# the widest a column of a sheet is, in characters; a longer text is wrapped
_WIDEST: Final = 60
# a day, and a minute with its offset, by ISO 8601
_DAY: Final = "%Y-%m-%d"
_MINUTE: Final = "%Y-%m-%dT%H:%M%z"
# a workbook must be the same from one run to the next
WORKBOOK_DATE: Final = dt.datetime(2000, 1, 1)  # noqa: DTZ001 - a workbook has no time zones


def core_table(cores: pd.DataFrame, as_read: pd.DataFrame) -> pd.DataFrame:
    """Return the table of cores: the contract's columns, then the register's own as they were read.

    A register column whose name is taken there, whatever its case, comes as ``register_<name>``.
    """
    cores = cores.assign(**{name: iso_texts(cores[name]) for name in DATES_UNDERSTOOD})
    table = cores[[column.name for column in CORE_TABLE]].set_axis(list(names_of(CORE_TABLE)), axis="columns")
    table = table.round({column.published: column.digits for column in CORE_TABLE if column.kind == "number"})
    return pd.concat([table, as_read.set_axis(own_names(as_read), axis="columns")], axis="columns")


def iso_texts(instants: pd.Series) -> pd.Series:
    """Return days where no time of day was written, else minutes with the zone; midnight counts as none."""
    # a million cores were reinstated on some thousand days: each is written once
    codes, different = pd.factorize(instants)
    once = pd.Series(different)
    is_timed = ~once.dt.normalize().eq(once)
    texts = once.dt.strftime(_DAY).astype("str")
    # an offset is written with a colon
    texts[is_timed] = once[is_timed].dt.strftime(_MINUTE).str.replace(r"(\d\d)$", r":\1", regex=True)
    return pd.Series(texts.reindex(codes).to_numpy(), instants.index, dtype="str")


def rounded(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table with its numbers rounded to six decimal places."""
    return table.round(dict.fromkeys(table.select_dtypes("float"), _DIGITS))


def write_csv(table: pd.DataFrame, path: Path) -> None:
    """Write a table as UTF-8 CSV; a text that a spreadsheet would run as a formula gets an apostrophe before it.

    ``pipeline.spreadsheet_text.as_written`` removes the apostrophe again.
    """
    options = arrow_csv.WriteOptions(quoting_style="needed")
    cells = pa.Table.from_pandas(table, preserve_index=False)
    cells = pa.table(
        [_harmless(column) for column in cells.columns], names=_harmless(pa.array(cells.column_names)).to_pylist()
    )
    arrow_csv.write_csv(cells, path, options)


def _harmless(column: pa.ChunkedArray | pa.Array) -> pa.ChunkedArray | pa.Array:
    if pa.types.is_dictionary(column.type):
        column = pc.cast(column, column.type.value_type)
    if not (pa.types.is_string(column.type) or pa.types.is_large_string(column.type)):
        return column
    apostrophe, nothing = pa.scalar("'", column.type), pa.scalar("", column.type)
    runs = pc.and_(pc.match_substring_regex(column, FORMULA), pc.invert(pc.match_substring_regex(column, PLAIN_NUMBER)))
    return pc.if_else(
        pc.fill_null(runs, fill_value=False), pc.binary_join_element_wise(apostrophe, column, nothing), column
    )


def write_parquet(table: pd.DataFrame, path: Path) -> None:
    """Write a table as Parquet."""
    parquet.write_table(pa.Table.from_pandas(table, preserve_index=False), path, compression="zstd")


def write_workbook(
    sheets: dict[str, pd.DataFrame],
    title: str,
    as_of: dt.date,
    path: Path,
    notes: Sequence[str] = (),
    reminder: str = "",
) -> None:
    """Write tables as a workbook, one sheet per table, cut to the rows that fit, and ``notes`` as the last sheet.

    Each sheet that was cut is named at the head of the notes. ``reminder`` is printed at the foot of each page, and
    shown where somebody points at the first heading of a sheet.
    """
    cut = [
        f"Cut: sheet {name} holds the first {_MOST_ROWS:,} of {len(table):,} rows, as many as a sheet has room for. "
        "The CSV files beside this workbook hold all of them."
        for name, table in sheets.items()
        if len(table) > _MOST_ROWS
    ]
    notes = [*cut, *notes]
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(str(path), options) as book:
        book.set_properties({"title": title, "created": WORKBOOK_DATE})
        for name, table in sheets.items():
            sheet = _sheet(book, name, as_cells(table.head(_MOST_ROWS)), title, as_of)
            if reminder:
                sheet.set_footer(f"&L{reminder.replace('&', '&&')}&RPage &P of &N")
                sheet.write_comment(0, 0, reminder)
        if notes:
            text = book.add_worksheet("How to read it")
            text.set_column(0, 0, 110, book.add_format({"text_wrap": True, "valign": "top"}))
            for row, note in enumerate((f"{title}, as of {as_of.isoformat()}", *notes)):
                text.write_string(row, 0, note)


def as_cells(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table with days as ISO text and truths as yes or no, the same in every program and locale."""
    cells = table.copy()
    for name in table.select_dtypes("datetime"):
        cells[name] = table[name].dt.strftime("%Y-%m-%d")
    for name in table.select_dtypes("bool"):
        cells[name] = table[name].map({True: "yes", False: "no"})
    return cells


def _sheet(book: Any, name: str, table: pd.DataFrame, title: str, as_of: dt.date) -> Any:  # noqa: ANN401 - untyped library
    sheet = book.add_worksheet(name)
    head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
    number = book.add_format({"num_format": "#,##0.0"})
    integer = book.add_format({"num_format": "#,##0"})
    wrapped = book.add_format({"text_wrap": True, "valign": "top"})
    for column, heading in enumerate(table.columns):
        sheet.write_string(0, column, heading, head)
        cells = table[heading]
        for row, cell in enumerate(cells, start=1):
            if isinstance(cell, str):
                sheet.write_string(row, column, cell, wrapped if len(cell) > _WIDEST else None)
            elif pd.notna(cell):
                sheet.write_number(row, column, cell, number if pd.api.types.is_float_dtype(cells.dtype) else integer)
        longest = max([len(heading), *(len(cell) for cell in cells if isinstance(cell, str))])
        sheet.set_column(column, column, min(max(longest + 2, 10), _WIDEST))
    sheet.freeze_panes(1, 0)
    if len(table):
        sheet.autofilter(0, 0, len(table), len(table.columns) - 1)
    sheet.repeat_rows(0)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    # "&" opens a code in a header
    sheet.set_header(f"&L{title.replace('&', '&&')[:80]}&R{name}, as of {as_of.isoformat()}")
    sheet.set_footer("&RPage &P of &N")
    return sheet
