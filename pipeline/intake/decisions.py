"""Decisions as people filled them in, in whatever program: every entry, and what is wrong with it."""

import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import no_text
from pipeline.contracts.decisions import DECISIONS, ENTRY_TEXTS
from pipeline.errors import InputError
from pipeline.intake.cells.date_order import count_orders, total_order
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.files.filled_sheets import own_columns, read_filled_sheet, sheet_texts
from pipeline.intake.files.header_rows import Wanted
from pipeline.intake.files.tables import RawTable
from pipeline.programme.decisions import Decisions
from pipeline.wording import counted

__all__ = ["NO_ENTRIES", "DecisionFile", "Entries", "read_decisions"]

_DATES: Final = ("decided_on", "until")
# an entry that may hold: other standings say why it does not
_HOLDS: Final = "holds"


class DecisionFile(NamedTuple):
    """A file of decisions as it was read: its name, its checksum, how many entries it has, and of how many rows."""

    path: str
    sha256: str
    entries: int
    rows: int


@dataclass(frozen=True)
class Entries:
    """The decisions of a programme.

    ``frame``: one row per entry, in the order of files and lines: ``file``, ``line``, the texts of ``ENTRY_TEXTS``,
    ``decided_on`` and ``until`` (days), the same with ``_text`` as they were written, ``day_first`` (as read for its
    file), ``standing`` on the day of the audit (``holds``, ``expired``, ``not yet in force``, ``does not hold``) and
    ``problem``, what to correct, missing where nothing is wrong. ``skipped``: rows without a decision.
    """

    frame: pd.DataFrame
    skipped: int = 0
    files: list[DecisionFile] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)


_COLUMNS: Final = (
    "file", "line", *ENTRY_TEXTS, *_DATES, *(f"{name}_text" for name in _DATES), "day_first", "ragged", "standing",
    "problem",
)  # fmt: skip
NO_ENTRIES: Final = Entries(pd.DataFrame(columns=list(_COLUMNS)))


def read_decisions(section: Decisions | None, folder: Path, day: dt.date, *, day_first: bool | None) -> Entries:
    """Return the decisions of a programme; an entry that cannot hold is reported, and stops nothing.

    Parameters
    ----------
    section
        Paths of the files; None: the programme has none.
    folder
        Folder of the programme file, which the paths are relative to.
    day
        Day of the audit: by it, and not by the clock, an entry is in force.
    day_first
        Whether 03/04/2026 is 3 April in the registers, used where the section does not say.

    Raises
    ------
    InputError
        A file cannot be read, or has no column ``decision``.
    """
    if section is None:
        return NO_ENTRIES
    order = section.day_first if section.day_first is not None else day_first
    notices: list[str] = []
    frames, files, skipped = [], [], 0
    for path in section.paths:
        table, sha256 = _raw(path, folder, section)
        if table is None:
            files.append(DecisionFile(path, sha256, 0, 0))
            continue
        frame = _entries(table, path, notices, day_first=order)
        decided = frame["decision"].notna()
        skipped += int((~decided).sum())
        files.append(DecisionFile(path, sha256, int(decided.sum()), len(frame)))
        frames.append(frame[decided])
        notices += table.notices
    if not frames:
        return Entries(NO_ENTRIES.frame, skipped, files, notices)
    return Entries(_judged(pd.concat(frames, ignore_index=True), day)[list(_COLUMNS)], skipped, files, notices)


def _raw(path: str, folder: Path, section: Decisions) -> tuple[RawTable | None, str]:
    """Return a file as a raw table, None where it has a header and no entry, and its checksum."""
    known = ("decision", *ENTRY_TEXTS, *_DATES)
    spellings = tuple(name.replace("_", " ") for name in known)
    wanted = Wanted(
        needed=(("decision",),), known=(*known, *spellings), header_row=section.header_row, section="decisions",
        one="decision",
    )  # fmt: skip
    return read_filled_sheet(
        path, folder, wanted, layer=section.layer, encoding=section.encoding, delimiter=section.delimiter
    )


def _entries(table: RawTable, path: str, notices: list[str], *, day_first: bool | None) -> pd.DataFrame:
    """Return the rows of one file with its texts and dates as read."""
    by_form = own_columns(table)
    if "decision" not in by_form:
        raise InputError(
            f"{path}: no column `decision`; the file has: {table.listed_columns} Fill in the sheet that "
            "`kerfbook decide` wrote, and keep its header."
        )
    frame = sheet_texts(table, (*ENTRY_TEXTS, *_DATES))
    # a spreadsheet program begins a cell with a capital letter
    for name in ("decision", "rule"):
        frame[name] = frame[name].str.casefold()
    frame["file"], frame["line"] = path, table.rows if table.places is None else table.places
    frame["ragged"] = no_text(frame.index) if table.ragged is None else table.ragged
    order = _order(frame, path, notices, day_first=day_first)
    frame["day_first"] = pd.Series([order] * len(frame), frame.index, dtype="object")
    for name in _DATES:
        # a spreadsheet program may save a date in text as the number of its day
        stored, serial = table.stored_as_number, pd.Series(data=True, index=frame.index)
        if stored is not None and name in by_form:
            serial = stored[by_form[name]]
        dates = read_dates(frame[name], "UTC", day_first=order, serial=serial, is_1904=table.is_1904)
        frame[f"{name}_text"] = frame[name]
        frame[name] = dates.instants.dt.tz_localize(None).dt.normalize()
    return frame


def _order(frame: pd.DataFrame, path: str, notices: list[str], *, day_first: bool | None) -> bool | None:
    """Return whether the day comes first in a file; None where neither the setting nor its own dates show it.

    The program that saved the file may have rewritten all dates its own way, so that they outweigh the setting.
    """
    shown = total_order(count_orders(frame[name].dropna()) for name in (*_DATES, "value", "original"))
    if bool(shown.day_first) == bool(shown.month_first):
        return day_first
    order = bool(shown.day_first)
    if day_first is not None and order != day_first:
        count, example = (shown.day_first, shown.day_first_example) if order else (
            shown.month_first, shown.month_first_example)  # fmt: skip
        which = "day" if order else "month"
        notices.append(
            f"{path}: all its dates are read with the {which} first, because {counted(count, 'date')} can only be read "
            f'so, such as "{example}". Set decisions.day_first = {str(order).lower()} in the programme file.'
        )
    return order


def _judged(frame: pd.DataFrame, day: dt.date) -> pd.DataFrame:
    """Return entries with their standing on a day, and the first thing that is wrong with each."""
    today, known = pd.Timestamp(day), frame["decision"].isin(DECISIONS)
    corrects = frame["decision"].eq("correct")
    nothing = frame[["fingerprint", "rule"]].isna().all(axis="columns") & ~corrects
    by_finding = frame["fingerprint"].notna() & ~corrects
    wrong = [
        (frame["ragged"].notna(), "the cells of this line do not fit the header"),
        (~known, f"the decision is not one of {', '.join(DECISIONS)}"),
        (nothing, "it names neither a finding (fingerprint) nor a rule"),
        (by_finding & frame["evidence_mark"].isna(), "evidence_mark is empty: copy it from the sheet of decisions"),
        (corrects & frame["core_id"].isna(), "a correction needs core_id"),
        (corrects & frame["column"].isna(), "a correction needs column, the column of the register"),
        (corrects & frame["value"].isna(), "a correction needs value; to empty the cell, write n/a"),
        (frame["decided_by"].isna(), "decided_by is empty: enter who decided"),
        (frame["reason"].isna(), "reason is empty: enter why"),
    ]
    problem = pd.Series(np.select([one for one, _ in wrong], [text for _, text in wrong], ""), frame.index, dtype="str")
    standing = pd.Series(_HOLDS, frame.index, dtype="str")
    unread = no_text(frame.index)
    for name in _DATES:
        here = frame[name].isna() & frame[f"{name}_text"].notna()
        unread = unread.mask(
            here, name + ' "' + frame[f"{name}_text"] + '" is not a date such as 2026-09-30, so it counts as expired'
        )
    standing = standing.mask(frame["until"].lt(today) | unread.notna(), "expired")
    standing = standing.mask(frame["decided_on"].gt(today) & unread.isna(), "not yet in force")
    standing = standing.mask(problem.ne(""), "does not hold")
    return frame.assign(standing=standing, problem=problem.where(problem.ne(""), unread))
