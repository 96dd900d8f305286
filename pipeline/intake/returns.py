"""Sheets of crews that came back: what was filled in, typed, and which cells cannot be used."""

from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts.returns import RETURN_FIELDS, ReturnField
from pipeline.errors import InputError
from pipeline.intake.cells.date_order import count_orders, total_order
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.cells.measures import read_measures
from pipeline.intake.files.filled_sheets import own_columns, read_filled_sheet, sheet_texts
from pipeline.intake.files.header_rows import Wanted
from pipeline.intake.files.tables import RawTable
from pipeline.programme.returns import Returns

__all__ = ["NO_RETURNS", "PROBLEM_COLUMNS", "ReturnFile", "Returned", "read_returns"]

PROBLEM_COLUMNS: Final = ("file", "place", "core_id", "column", "text", "why")
_FRAME: Final = ("file", "place", "core_id", "register", "crew", *(field.column for field in RETURN_FIELDS))
_TIME: Final = r"\d{1,2}[:.]\d{2}(?::\d{2})?(?:\s*[AaPp]\.?[Mm]\.?)?"
_PROBLEMS: Final = {
    "unreadable": "not a number",
    "no unit": "no unit",
    "thousands or decimals": "the comma may mean thousands or decimals",
    "which gallon": "a gallon may be a US or an imperial gallon",
}
_HEADS: Final = {
    head: field for field in RETURN_FIELDS for head in (field.head, field.us_head, *field.others)
}  # fmt: skip


class ReturnFile(NamedTuple):
    """A file of returns as it was read: its name, its checksum, the rows that were filled in, and all rows."""

    path: str
    sha256: str
    filled: int
    rows: int


class Returned(NamedTuple):
    """What came back.

    ``frame``: one row per row that was filled in: ``file``, ``place`` (row of the sheet or line of the text),
    ``core_id``, ``register``, ``crew`` and the columns of ``RETURN_FIELDS``, typed, missing where nothing was
    filled in.
    ``problems``: cells that cannot be used, PROBLEM_COLUMNS.
    """

    frame: pd.DataFrame
    problems: pd.DataFrame
    files: tuple[ReturnFile, ...] = ()


NO_RETURNS: Final = Returned(pd.DataFrame(columns=list(_FRAME)), pd.DataFrame(columns=list(PROBLEM_COLUMNS)))


def read_returns(section: Returns | None, folder: Path, timezone: str, *, day_first: bool | None) -> Returned:
    """Return what the files of returns hold; a cell that cannot be read is a problem, and stops nothing.

    Parameters
    ----------
    section
        Paths of the files; None: nothing came back.
    folder
        Folder that the paths are relative to.
    timezone
        IANA name of the zone that times are in.
    day_first
        Whether 03/04/2026 is 3 April in the registers, used where neither the section nor the file says.

    Raises
    ------
    InputError
        A file cannot be read, or has no column ``core_id`` or none to fill in.
    """
    if section is None:
        return NO_RETURNS
    order = section.day_first if section.day_first is not None else day_first
    frames, problems, files = [], [], []
    for path in section.paths:
        wanted = Wanted(
            needed=(("core_id", "core id"),), known=tuple(_HEADS), section="returns", one="return"
        )  # fmt: skip
        raw, sha256 = read_filled_sheet(
            path, folder, wanted, layer=section.layer, encoding=section.encoding, delimiter=section.delimiter
        )
        if raw is None:
            files.append(ReturnFile(path, sha256, 0, 0))
            continue
        frame, wrong = _typed(raw, path, section, timezone, day_first=order)
        frames.append(frame)
        problems.append(wrong)
        files.append(ReturnFile(path, sha256, len(frame), len(raw.frame)))
    if not frames:
        return Returned(NO_RETURNS.frame, NO_RETURNS.problems, tuple(files))
    return Returned(
        pd.concat(frames, ignore_index=True), pd.concat(problems, ignore_index=True), tuple(files)
    )  # fmt: skip


def _typed(
    raw: RawTable, path: str, section: Returns, timezone: str, *, day_first: bool | None
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the rows of a file that were filled in, and the cells of it that cannot be used."""
    own = own_columns(raw)
    if "core_id" not in own or not set(_HEADS) & set(own):
        missing = "core_id" if "core_id" not in own else "bags_used"
        raise InputError(
            f"{path}: no column `{missing}`; the file has: {raw.listed_columns} Fill in the return-sheet.csv that the "
            "run wrote, and keep its header."
        )
    texts = sheet_texts(raw, ("core_id", "register", "crew", "day", *_HEADS))
    filled = texts[list(_HEADS)].notna().any(axis="columns")
    texts = texts[filled]
    order = _order(texts, day_first=day_first)
    place = pd.Series(raw.rows if raw.places is None else raw.places, raw.frame.index)[filled]
    columns: dict[str, pd.Series] = {
        "file": pd.Series(path, texts.index, dtype="str"), "place": place,
        **{name: texts[name] for name in ("core_id", "register", "crew")},
    }  # fmt: skip
    problems = []
    for field in RETURN_FIELDS:
        value = _nothing(field, texts.index, timezone)
        for head in dict.fromkeys((field.head, field.us_head, *field.others)):
            if head not in own:
                continue
            read, why = _read(field, head, texts, section.decimal, timezone, day_first=order)
            value = value.fillna(read)
            at = why.index[why.ne("")]
            problems.append(
                pd.DataFrame(
                    {
                        "file": path, "place": place[at], "core_id": texts.loc[at, "core_id"], "column": head,
                        "text": texts.loc[at, head], "why": why[at],
                    }
                )
            )  # fmt: skip
        columns[field.column] = value
    return pd.DataFrame(columns), pd.concat(problems)[list(PROBLEM_COLUMNS)]


def _nothing(field: ReturnField, index: pd.Index, timezone: str) -> pd.Series:
    if field.kind == "text":
        return pd.Series(np.nan, index, dtype="str")
    if field.kind == "number":
        return pd.Series(np.nan, index, dtype="float64")
    return pd.Series(pd.NaT, index, dtype=f"datetime64[us, {timezone}]")


def _order(texts: pd.DataFrame, *, day_first: bool | None) -> bool | None:
    """Return whether the day comes first: what the dates of the file show, else what is set."""
    dates = [texts[name].dropna() for name, field in _HEADS.items() if field.kind == "instant"]
    shown = total_order(count_orders(column) for column in [texts["day"].dropna(), *dates])
    if bool(shown.day_first) == bool(shown.month_first):
        return day_first
    return bool(shown.day_first)


def _read(
    field: ReturnField, head: str, texts: pd.DataFrame, decimal: str | None, timezone: str, *, day_first: bool | None
) -> tuple[pd.Series, pd.Series]:
    """Return one column of boxes typed, and why a cell cannot be used; empty where it can, or is blank."""
    match field.kind:
        case "number":
            return _number(field, head, texts[head], decimal)
        case "instant":
            return _instant(texts[head], texts["day"], timezone, day_first=day_first)
        case _:
            return texts[head], pd.Series("", texts.index, dtype="str")


def _number(field: ReturnField, head: str, text: pd.Series, decimal: str | None) -> tuple[pd.Series, pd.Series]:
    """Return numbers in the unit of the register column, and why a cell cannot be used.

    A unit in the cell takes precedence over that of the head, and a count may be in bags.
    """
    bare = field.us_unit if head == field.us_head else field.unit
    read = read_measures(text, field.unit, bare or None, decimal)
    number = read.values
    far = ~number.between(field.low, field.high) & number.notna()
    expected = f"out of range: expected {field.low:g} to {field.high:g} {field.unit}".strip()
    why = read.problem.where(text.notna()).map(_PROBLEMS).fillna("").mask(far, expected)
    return number.mask(far), why.astype("str")


def _instant(text: pd.Series, day: pd.Series, timezone: str, *, day_first: bool | None) -> tuple[pd.Series, pd.Series]:
    """Return times; a time without a date is of the day that the sheet has for the stop."""
    lone = text.str.fullmatch(_TIME).eq(True)
    day = day.str.slice(0, 10).str.strip()
    cells = text.mask(lone, day + " " + text.str.replace(r"^(\d{1,2})\.", r"\1:", regex=True))
    dates = read_dates(cells, timezone, day_first=day_first, serial=~lone)
    why = dates.problem.where(text.notna(), None).fillna("").astype("str")
    why = why.mask(why.ne(""), "not a date: " + why).mask(lone & day.isna(), "a time without a day")
    return dates.instants.mask(why.ne("")), why
