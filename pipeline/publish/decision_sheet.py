"""The sheet of findings that await a decision: delimited text or a workbook, for any spreadsheet program."""

import codecs
import datetime as dt
from pathlib import Path
from typing import Final

import pandas as pd
import xlsxwriter

from pipeline.contracts.decisions import DECISIONS
from pipeline.errors import OutputError, SettingsError
from pipeline.publish.folder import lay_files
from pipeline.publish.tables import WORKBOOK_DATE, write_csv
from pipeline.visible_text import in_line

__all__ = ["publish_decision_sheet"]

_WORKBOOK: Final = ".xlsx"
_TEXT: Final = ".csv"
_WIDTHS: Final = {"fingerprint": 19, "evidence_mark": 19, "message": 70, "earlier_decision": 40, "reason": 40}
_WIDTH: Final = 15
# where the columns to fill in begin
_FIRST_FILLED: Final = "decision"
_HOW: Final = (
    "Each row is a finding that awaits a decision. Rows without a decision are skipped.",
    "decision: accept (known, and left so), correct (the register is wrong), dispute (the finding is wrong), or defer.",
    "decided_by, reason: who decided, and why. Both are needed.",
    "decided_on, until: dates such as 2026-09-30. until is the last day on which the decision holds.",
    "Without until, it holds as long as the evidence is the same. A hazard can only be accepted with a last day.",
    "To correct: column is the column of the register, value the right value, original what the register has now.",
    "Leave fingerprint and evidence_mark as they are. Name this file in the programme file: [decisions] path = ...",
)


def publish_decision_sheet(sheet: pd.DataFrame, title: str, as_of: dt.date, path: Path) -> None:
    """Write a sheet of findings that await a decision; the same findings give the same bytes.

    Parameters
    ----------
    sheet
        One row per finding, every cell text.
    title, as_of
        The programme and the day of its run.
    path
        The file: ``.csv``, in UTF-8 with a byte order mark, or ``.xlsx`` with a list of the decisions to choose from.

    Raises
    ------
    SettingsError
        The file has another ending.
    OutputError
        The file cannot be written, or is there already and differs: it may have been filled in.
    """
    if path.suffix.lower() not in (_TEXT, _WORKBOOK):
        raise SettingsError(f"{path}: expected a file that ends in {_TEXT} or {_WORKBOOK}. Correct --out.")
    with lay_files(path.parent) as draft:
        new = draft / path.name
        if path.suffix.lower() == _WORKBOOK:
            _write_workbook(sheet, title, as_of, new)
        else:
            write_csv(sheet, new)
            # by this mark spreadsheet programs know the encoding
            new.write_bytes(codecs.BOM_UTF8 + new.read_bytes())
        if path.exists() and path.read_bytes() != new.read_bytes():
            raise OutputError(
                f"{path}: already exists and is different: another sheet, or one that was filled in. Nothing was "
                "replaced. Choose another file with --out."
            )


def _write_workbook(sheet: pd.DataFrame, title: str, as_of: dt.date, path: Path) -> None:
    # the library escapes control characters in cells, and nowhere else
    title = in_line(title)
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(str(path), options) as book:
        book.set_properties({"title": title, "created": WORKBOOK_DATE})
        page, how = book.add_worksheet("Decisions"), book.add_worksheet("How to fill it in")
        head = book.add_format({"bold": True, "bottom": 1, "valign": "top"})
        filled = book.add_format({"bold": True, "bottom": 1, "valign": "top", "bg_color": "#FFF2CC"})
        # what is typed in stays as it is typed, dates included
        text = book.add_format({"num_format": "@", "valign": "top", "text_wrap": True})
        names = list(map(str, sheet.columns))
        first = names.index(_FIRST_FILLED)
        for column, name in enumerate(names):
            page.set_column(column, column, _WIDTHS.get(name, _WIDTH), text)
            page.write_string(0, column, name, filled if column >= first else head)
            for row, cell in enumerate(sheet[name], start=1):
                if cell:
                    page.write_string(row, column, cell, text)
        page.freeze_panes(1, 0)
        if len(sheet):
            page.autofilter(0, 0, len(sheet), len(names) - 1)
            page.data_validation(1, first, len(sheet), first, {"validate": "list", "source": list(DECISIONS)})
        how.set_column(0, 0, 110, book.add_format({"text_wrap": True, "valign": "top"}))
        for row, line in enumerate((f"{title}, as of {as_of.isoformat()}", *_HOW)):
            how.write_string(row, 0, line)
