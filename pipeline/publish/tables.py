"""The table of cores, and how any table is written: as CSV, Parquet or a sheet of a workbook."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

import pandas as pd
import pyarrow as pa
import xlsxwriter
from pyarrow import csv as arrow_csv

from pipeline.clock import Counted, in_parts, uncounted
from pipeline.contracts import CORE_TABLE, DATES_UNDERSTOOD, names_of, own_names, start_of_day
from pipeline.publish.guarded_cells import header_cells, without_formulas
from pipeline.publish.sheet_cells import Cells, cells_of, lines_of, wrapped_lines
from pipeline.publish.sheet_rows import RowsWritten, TableSheet
from pipeline.visible_text import in_line

__all__ = [
    "WORKBOOK_DATE", "as_cells", "core_table", "iso_texts", "rounded", "write_csv", "write_workbook",
]  # fmt: skip

# decimal places in the tables whose columns state none
_DIGITS: Final = 6
# rows that a sheet has room for below its heading
_MOST_ROWS: Final = 1_048_575
# rows of a CSV file that are written at a time
_ROWS_AT_ONCE: Final = 65_536
# the widest and the narrowest a column of a sheet is, in characters; a longer text is wrapped
_WIDEST: Final = 60
_NARROWEST: Final = 6
# characters side by side that can still be read when a sheet is fitted to the width of a page
_PAGE_WIDTH: Final = 185
# a day, and a minute with its offset, by ISO 8601
_DAY: Final = "%Y-%m-%d"
_MINUTE: Final = "%Y-%m-%dT%H:%M%z"
# hours, minutes and, before standard time, seconds
_OFFSET: Final = r"(\d\d)(\d\d)(?:\d\d)?$"
# height of a line of text, in points; numbers of papers by the library
_LINE_HEIGHT: Final = 15
# rows that the note at the first heading may lie over: the library works out its place from their heights
_UNDER_NOTE: Final = 50
# characters that a heading shares with the button of the filter, and that a text is set in
_BUTTON: Final = 2
_INDENT: Final = 2
_PAPERS: Final = {"A4": 9, "Letter": 1}
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
    is_timed = ~start_of_day(once).eq(once)
    texts = once.dt.strftime(_DAY).astype("str")
    # an offset is written with a colon, and to the minute: ISO 8601 knows no seconds of it
    texts[is_timed] = once[is_timed].dt.strftime(_MINUTE).str.replace(_OFFSET, r"\1:\2", regex=True)
    return pd.Series(texts.reindex(codes).to_numpy(), instants.index, dtype="str")


def rounded(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table with its numbers rounded to six decimal places."""
    return table.round(dict.fromkeys(table.select_dtypes("float"), _DIGITS))


def write_csv(table: pd.DataFrame, path: Path | pa.NativeFile, tell: Counted = uncounted) -> None:
    """Write a table as UTF-8 CSV; what a spreadsheet would run as a formula gets an apostrophe before it.

    ``pipeline.spreadsheet_text.as_written`` removes the apostrophes again. ``tell`` is told the rows written.
    """
    cells = pa.Table.from_pandas(table, preserve_index=False)
    names = header_cells(cells.column_names)

    def harmless(rows: slice) -> pa.Table:
        part = cells.slice(rows.start, rows.stop - rows.start)
        return pa.table([without_formulas(column) for column in part.columns], names=names)

    options = arrow_csv.WriteOptions(quoting_style="needed")
    with arrow_csv.CSVWriter(path, harmless(slice(0, 0)).schema, write_options=options) as file:
        for rows in in_parts(cells.num_rows, _ROWS_AT_ONCE, tell, "rows"):
            file.write_table(harmless(rows))


def write_workbook(
    sheets: dict[str, pd.DataFrame],
    title: str,
    as_of: dt.date,
    path: Path,
    notes: Sequence[str] = (),
    reminder: str = "",
    below: Mapping[str, Sequence[str]] | None = None,
    paper: Literal["A4", "Letter"] = "A4",
    tell: Counted = uncounted,
) -> None:
    """Write tables as a workbook, one sheet per table, cut to the rows that fit, and ``notes`` as the last sheet.

    Each sheet that was cut is named at the head of the notes. ``reminder`` is printed at the foot of each page, and
    shown where somebody points at the first heading of a sheet. ``below``: lines under the table of a sheet, by its
    name. Every sheet prints on ``paper``, across the page, with its heads on every page. ``tell`` is told the
    sheets put together, then the rows written.
    """
    cut = [
        f"Cut: sheet {name} holds the first {_MOST_ROWS:,} of {len(table):,} rows, as many as a sheet has room for. "
        "The CSV files beside this workbook hold all of them."
        for name, table in sheets.items()
        if len(table) > _MOST_ROWS
    ]
    notes = [*cut, *notes]
    # the library escapes control characters in cells, and nowhere else
    title = in_line(title)
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(str(path), options) as book:
        book.set_properties({"title": title, "created": WORKBOOK_DATE})
        looks = _Looks.of(book)
        rows = RowsWritten(tell)
        for done, (name, table) in enumerate(sheets.items()):
            tell(done, len(sheets), "sheets")
            lines = (below or {}).get(name, ())
            cells = as_cells(table.head(_MOST_ROWS - 1 - len(lines) if lines else _MOST_ROWS))
            sheet = book.add_worksheet(name, worksheet_class=TableSheet)
            sheet.rows_written = rows
            widths = _sheet(sheet, cells, looks, title, as_of)
            _write_below(book, sheet, len(cells), widths, lines)
            sheet.set_paper(_PAPERS[paper])
            if reminder:
                sheet.set_footer(f"&L{reminder.replace('&', '&&')}&RPage &P of &N")
                sheet.write_comment(0, 0, reminder)
        if notes:
            text = book.add_worksheet("How to read it")
            text.set_column(0, 0, 90, book.add_format({"text_wrap": True, "valign": "top"}))
            for row, note in enumerate((f"{title}, as of {as_of.isoformat()}", *notes)):
                text.write_string(row, 0, note)
            text.set_paper(_PAPERS[paper])
            text.fit_to_pages(1, 0)
            text.set_header(_header(title, "How to read it", as_of))
            text.set_footer("&RPage &P of &N")


def as_cells(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table with days as ISO text and truths as yes or no, the same in every program and locale."""
    cells = table.copy()
    for name in table.select_dtypes("datetime"):
        cells[name] = _day_texts(table[name])
    for name in table.select_dtypes("bool"):
        cells[name] = table[name].map({True: "yes", False: "no"})
    return cells


@dataclass(frozen=True)
class _Looks:
    """How the cells of every sheet of a workbook look."""

    head: Any
    number_head: Any
    number: Any
    integer: Any
    wrapped: Any

    @classmethod
    def of(cls, book: Any) -> "_Looks":  # noqa: ANN401 - untyped library
        head = {"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"}
        return cls(
            book.add_format({**head, "align": "left", "indent": 1}),
            book.add_format({**head, "align": "right"}),
            book.add_format({"num_format": "#,##0.0", "valign": "top"}),
            book.add_format({"num_format": "#,##0", "valign": "top"}),
            book.add_format({"text_wrap": True, "valign": "top", "align": "left", "indent": 1}),
        )


def _day_texts(days: pd.Series) -> pd.Series:
    codes, different = pd.factorize(days)
    texts = pd.Series(different).dt.strftime(_DAY).astype("str")
    return pd.Series(texts.reindex(codes).to_numpy(), days.index, dtype="str")


def _sheet(sheet: TableSheet, table: pd.DataFrame, looks: _Looks, title: str, as_of: dt.date) -> list[float]:
    """Put a table on a sheet; return the widths of its columns."""
    columns = [cells_of(table[heading]) for heading in table.columns]
    widths = _widths(columns)
    heads = [1]
    for column, (cells, width) in enumerate(zip(columns, widths, strict=True)):
        sheet.write_string(0, column, cells.heading, looks.number_head if cells.is_number else looks.head)
        sheet.add_column(cells, looks.wrapped, looks.number if cells.is_float else looks.integer)
        heads.append(wrapped_lines(cells.heading, width - _BUTTON))
        sheet.set_column(column, column, width)
    lines = lines_of(columns, [width - _INDENT for width in widths], len(table))
    sheet.set_lines(lines)
    # not every program works out the height of a wrapped row by itself
    for row, count in enumerate([max(heads), *lines[:_UNDER_NOTE].tolist()]):
        if count > 1:
            sheet.set_row(row, _LINE_HEIGHT * count)
    sheet.freeze_panes(1, 0)
    if len(table):
        sheet.autofilter(0, 0, len(table), len(table.columns) - 1)
    sheet.repeat_rows(0)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.set_margins(left=0.4, right=0.4, top=0.8, bottom=0.7)
    sheet.print_area(0, 0, len(table), max(len(table.columns) - 1, 0))
    sheet.set_header(_header(title, sheet.get_name(), as_of))
    sheet.set_footer("&RPage &P of &N")
    return widths


def _header(title: str, name: str, as_of: dt.date) -> str:
    # "&" opens a code in a header
    return f"&L&B{name.replace('&', '&&')}&B&R{title[:80].replace('&', '&&')}, as of {as_of.isoformat()}"


def _widths(columns: Sequence[Cells]) -> list[float]:
    """Return the widths of the columns: what they hold, the longest cut until all of them fit the page."""
    wanted: list[int] = []
    least: list[int] = []
    for cells in columns:
        digits = cells.longest_figure
        # a heading is wrapped between its words
        words = max(len(word) for word in cells.heading.split(" ")) + _BUTTON
        longest = max(digits, cells.longest_text) + _INDENT
        wanted.append(max(min(longest, _WIDEST), words, _NARROWEST))
        unbroken = max(digits, cells.longest_word) + _INDENT
        least.append(min(max(words, unbroken, _NARROWEST), wanted[-1]))
    most = _WIDEST
    while (
        most > _NARROWEST
        and sum(max(min(one, most), few) for one, few in zip(wanted, least, strict=True)) > _PAGE_WIDTH
    ):
        most -= 1
    return [float(max(min(one, most), few)) for one, few in zip(wanted, least, strict=True)]


def _write_below(book: Any, sheet: Any, rows: int, widths: Sequence[float], lines: Sequence[str]) -> None:  # noqa: ANN401 - untyped library
    """Write lines under a table of so many rows, across its columns, and print them with it."""
    if not lines:
        return
    last = max(len(widths) - 1, 1)
    across = sum(widths) or _WIDEST
    for row, line in enumerate(lines, start=rows + 2):
        sheet.merge_range(row, 0, row, last, line, book.add_format({"text_wrap": True, "valign": "top"}))
        sheet.set_row(row, _LINE_HEIGHT * wrapped_lines(line, across))
    sheet.print_area(0, 0, rows + 1 + len(lines), last)
