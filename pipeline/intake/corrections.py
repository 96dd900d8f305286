"""Corrections of a register's cells: used for the audit in place of what was read, which is kept beside them."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import REGISTER_COLUMNS, is_missing, no_text, plain_ids
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.files.tables import RawTable
from pipeline.programme.names import folded
from pipeline.programme.settings import Cores

__all__ = ["CORRECTED", "NO_CORRECTIONS", "with_corrections"]

# of each cell that an entry names: the entry, the cell, what it held, what replaces it, and whether it does
CORRECTED: Final = ("entry", "row", "core_id", "register", "column", "original", "corrected", "standing")
NO_CORRECTIONS: Final = pd.DataFrame(columns=list(CORRECTED))
_INSTANTS: Final = frozenset(column.name for column in REGISTER_COLUMNS if column.kind == "instant")
_NAMES: Final = {name: column.name for column in REGISTER_COLUMNS for name in (column.short, column.name)}
_HOLDS: Final = "holds"
_ISO: Final = r"[0-9]{4}-"


def with_corrections(
    table: RawTable, found: Mapping[str, str | None], section: Cores, entries: pd.DataFrame
) -> tuple[RawTable, pd.DataFrame]:
    """Return a register's table with the cells that were corrected, and a row for each cell that an entry names.

    A core is named by its id as the register has it, whatever its case and blanks; with ``original``, only its rows
    that hold this text are corrected. Where rows with one id hold different cells, none is corrected without it; nor
    is an id that several rows carry. A column is named by its header, or as in a programme file.

    Parameters
    ----------
    table
        What the file holds; it stays as it is.
    found
        The file's column for each column of the contract, None where it has none.
    section
        Settings of the register.
    entries
        The decisions, as :class:`pipeline.intake.decisions.Entries` describes them.
    """
    source = found.get("core_id")
    if source is None or entries.empty:
        return table, NO_CORRECTIONS
    mine = entries["register"].isna() | entries["register"].map(folded, na_action="ignore").eq(
        folded(section.register_name)
    )
    wanted = entries[entries["decision"].eq("correct") & entries["standing"].ne("does not hold") & mine]
    rows = pd.DataFrame({"at": np.arange(len(table.frame)), "id": plain_ids(table.frame[source])}).dropna()
    named = wanted.assign(entry=wanted.index, id=plain_ids(wanted["core_id"]))
    cells = named.merge(rows, on="id", how="inner", validate="many_to_many")
    if cells.empty:
        return table, NO_CORRECTIONS
    headers = _headers(table, found, section)
    cells["header"] = cells["column"].map(lambda name: headers.get(folded(name))).astype("str")
    cells["held"] = _held(table, cells)
    cells = _judged(cells, {header: name for name, header in found.items() if header is not None}, section)
    log = pd.DataFrame(
        {
            "entry": cells["entry"],
            "row": table.rows[cells["at"]],
            "core_id": table.frame[source].iloc[cells["at"]].to_numpy(),
            "register": section.register_name,
            "column": cells["header"].fillna(cells["column"]),
            "original": cells["held"],
            "corrected": cells["text"].fillna(cells["value"]),
            "standing": cells["standing"],
        }
    )
    return _replaced(table, cells[cells["standing"].eq(_HOLDS)]), log


def _headers(table: RawTable, found: Mapping[str, str | None], section: Cores) -> dict[str, str]:
    """Return the file's column for each name that an entry may give it; its own headers come first."""
    names: dict[str, str] = {}
    places = {"x": section.x, "y": section.y, "position": section.position}
    own = {folded(str(name)): str(name) for name in reversed(table.frame.columns.tolist())}
    for name, full in _NAMES.items():
        if (header := found.get(full)) is not None:
            names[folded(name)] = header
    for name, given in places.items():
        if given is not None and folded(given) in own:
            names[name] = own[folded(given)]
    return names | own


def _held(table: RawTable, cells: pd.DataFrame) -> pd.Series:
    """Return what the cells hold; missing where they are empty, or their column is not in the file."""
    held = no_text(cells.index)
    for header in cells["header"].dropna().unique():
        here = cells["header"].eq(header)
        held.loc[here] = table.frame[header].astype("str").iloc[cells.loc[here, "at"]].to_numpy()
    return held


def _judged(cells: pd.DataFrame, columns: Mapping[str, str], section: Cores) -> pd.DataFrame:
    """Return cells with their standing, and the text that replaces each: dates as the register can read them."""
    is_date = cells["header"].map(columns).isin(_INSTANTS)
    text, before, held = cells["value"].copy(), no_text(cells.index), no_text(cells.index)
    for order in (True, False, None):
        # the file may have been saved by a program that writes dates its own way
        ours = is_date & cells["day_first"].map(lambda one, order=order: one is order)
        read = _iso(cells.loc[ours, "value"], day_first=order)
        if order is not None and section.day_first is (not order):
            # the file writes days and months one way, the register the other: either may be meant
            other = _iso(cells.loc[ours, "value"], day_first=section.day_first)
            read = read.where(other.isna() | read.eq(other))
        # such a text may have an offset
        text.loc[ours] = read.mask(read.notna() & cells.loc[ours, "value"].str.match(_ISO).eq(True), cells["value"])
        before.loc[ours] = _iso(cells.loc[ours, "original"], day_first=order)
    held.loc[is_date] = _iso(cells.loc[is_date, "held"], day_first=section.day_first)
    told, now = cells["original"], cells["held"].str.strip()
    numbers = pd.to_numeric(told, errors="coerce"), pd.to_numeric(now, errors="coerce")
    is_same = told.isna() | told.eq(now) | numbers[0].eq(numbers[1]) | (before.notna() & before.eq(held))
    # a core may have several rows: with the original, only those that hold it are meant
    elsewhere = is_same.groupby(cells["entry"]).transform("any")
    cells = cells[is_same | ~elsewhere].assign(text=text)
    standing = cells["standing"].mask(~is_same[cells.index], "evidence changed")
    standing = standing.mask(cells["text"].isna(), "not a date").mask(_is_unclear(cells, columns), "several rows")
    standing = standing.mask(cells["header"].isna(), "no such column")
    cells = cells.assign(standing=standing).sort_values(["decided_on", "entry"], na_position="first", kind="stable")
    holds = cells["standing"].eq(_HOLDS)
    later = cells[holds].duplicated(["at", "header"], keep="last").reindex(cells.index, fill_value=False)
    return cells.assign(standing=cells["standing"].mask(later, "superseded")).sort_values(["entry", "at"])


def _is_unclear(cells: pd.DataFrame, columns: Mapping[str, str]) -> pd.Series:
    """Return which cells belong to an entry that does not say which of several rows with its id it means."""
    by_entry = cells.groupby("entry")
    several = by_entry["at"].transform("nunique").gt(1)
    differ = by_entry["held"].transform("nunique", dropna=False).gt(1) & cells["original"].isna()
    return several & (differ | cells["header"].map(columns).eq("core_id"))


def _iso(text: pd.Series, *, day_first: bool | None) -> pd.Series:
    """Return dates as ISO text, with the time if they have one; a cell without a value as it is, others missing."""
    read = read_dates(text, "UTC", day_first=day_first, serial=pd.Series(data=True, index=text.index)).instants
    days, minutes = read.dt.strftime("%Y-%m-%d"), read.dt.strftime("%Y-%m-%d %H:%M:%S")
    written: pd.Series = days.where(read.eq(read.dt.normalize()), minutes).where(~is_missing(text), text).astype("str")
    return written


def _replaced(table: RawTable, cells: pd.DataFrame) -> RawTable:
    """Return a table with the texts of cells in their places."""
    frame, stored = table.frame.copy(), table.stored_as_number
    stored = None if stored is None else stored.copy()
    for header in cells["header"].unique():
        here = cells[cells["header"].eq(header)]
        column = frame[header].astype("str")
        column.iloc[here["at"].to_numpy()] = here["text"].to_numpy()
        frame[header] = column
        if stored is not None and header in stored:
            numbers = stored[header].copy()
            numbers.iloc[here["at"].to_numpy()] = False
            stored[header] = numbers
    return replace(table, frame=frame, stored_as_number=stored)
