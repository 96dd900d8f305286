"""The table of stock: what each yard has of each item, and what is being delivered to it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import pandas as pd

from pipeline.contracts import NO_DISTRICT, Column
from pipeline.errors import InputError
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.cells.numbers import read_numbers
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.tables import RawTable
from pipeline.intake.register import find_column
from pipeline.programme.names import as_known, did_you_mean, listed
from pipeline.programme.orders import Stock
from pipeline.wording import counted

__all__ = ["StockTable", "read_stock"]

_TEXTS: Final = ("yard", "item")
_DATES: Final = ("arrives_on", "expires_on")
_SWAPPED: Final = "day or month first"


@dataclass(frozen=True)
class StockTable:
    """The stock after intake.

    ``frame``: ``yard`` and ``item`` as the programme spells them, ``packs``, ``arrives_on`` and ``expires_on`` (days,
    missing where blank). ``rows_in_file``: rows of the table, blank ones included. ``sha256``: of
    the file as it was read.
    """

    frame: pd.DataFrame
    label: str
    rows_in_file: int
    notices: list[str] = field(default_factory=list)
    sha256: str = ""


def read_stock(
    stock: Stock, folder: Path, items: Sequence[str], yards: Sequence[str], *, day_first: bool | None
) -> StockTable:
    """Return the stock of the yards.

    Parameters
    ----------
    stock
        Path of the table, what its columns are called, and how its cells are written.
    folder
        Folder of the programme file, which the path is relative to.
    items
        The items that can be ordered; stock of anything else is refused, since no order could be reduced by it.
    yards
        The yards that supply a district; stock of any other is refused for the same reason.
    day_first
        Whether 03/04/2026 is 3 April in the registers, used where ``stock`` does not say; None refuses such a date.

    Raises
    ------
    InputError
        A column is missing, a number or a date cannot be read, an item cannot be ordered, or a yard supplies no
        district.
    """
    raw = read_raw(stock.as_layer(), folder, "orders.stock", None)
    cells = {name: raw.frame[source].str.strip() for name, source in _columns_found(raw, stock).items()}
    text = pd.DataFrame({name: column.where(column.ne("")) for name, column in cells.items()})
    is_blank = raw.frame.apply(lambda column: column.isna() | column.str.strip().eq("")).all(axis="columns")
    text = text[~is_blank]
    return StockTable(
        _typed(raw, text, stock, items, yards, day_first=stock.day_first if stock.day_first is not None else day_first),
        raw.label,
        raw.rows_in_file,
        [*raw.notices, *_not_read(raw, int(is_blank.sum()))],
        raw.sha256,
    )


def _columns_found(raw: RawTable, stock: Stock) -> dict[str, str]:
    """Return the file's column for each that is there; stop where a required one is missing."""
    names = (*_TEXTS, "packs", *_DATES)
    found = {name: find_column(raw, stock.columns, Column(name, "text"), "orders.stock") for name in names}
    for name in (*_TEXTS, "packs"):
        if found[name] is None:
            raise InputError(
                f"{raw.label}: no column for `{name}`; the {raw.origin} has: {raw.listed_columns} "
                f'Set orders.stock.columns.{name} = "..." in the programme file.'
            )
    return {name: source for name, source in found.items() if source is not None}


def _typed(
    raw: RawTable,
    text: pd.DataFrame,
    stock: Stock,
    items: Sequence[str],
    yards: Sequence[str],
    *,
    day_first: bool | None,
) -> pd.DataFrame:
    """Return the cells typed; the first that cannot be read is refused."""
    table = pd.DataFrame({name: _as_known(text[name], known) for name, known in (("yard", yards), ("item", items))})
    wanted = f"a yard that supplies a district: {listed(yards)}"
    _refuse(raw, text["yard"], table["yard"].isna(), wanted, lambda cell: _yard_remedy(cell, yards))
    wanted = f"one of: {', '.join(items)}"
    _refuse(raw, text["item"], table["item"].isna(), wanted, lambda cell: f"{did_you_mean(cell, items)} Correct it.")
    table["packs"] = read_numbers(text["packs"], stock.decimal)
    _refuse(raw, text["packs"], ~table["packs"].ge(0), "a number of packs, zero or more", _packs_remedy)
    for name in _DATES:
        table[name] = pd.Series(pd.NaT, table.index, dtype="datetime64[us]")
        if name in text:
            dates = read_dates(text[name], "UTC", day_first=day_first)
            swapped = dates.problem.eq(_SWAPPED)
            _refuse(raw, text[name], swapped, "a date whose day and month cannot be swapped", _date_remedy)
            _refuse(raw, text[name], dates.problem.notna(), "a date such as 2026-09-30")
            table[name] = dates.instants.dt.tz_localize(None)
    if "expires_on" in text:
        late = table["expires_on"].lt(table["arrives_on"])
        _refuse(raw, text["expires_on"], late, "a date that is not before `arrives_on` of the same row")
    return table.reset_index(drop=True)


def _as_known(written: pd.Series, known: Sequence[str]) -> pd.Series:
    """Return each written name as the programme spells it; missing where it has none."""
    spelling = {name: as_known(name, known) for name in written.dropna().unique()}
    return written.map(spelling).astype("str")


def _yard_remedy(cell: str, yards: Sequence[str]) -> str:
    if [*yards] == [NO_DISTRICT]:
        return f' Without [districts] there is one yard: set "{NO_DISTRICT}" = "{cell}" under [orders.yards].'
    return f"{did_you_mean(cell, yards)} Correct it, or add the yard to [orders.yards]."


def _date_remedy(_: str) -> str:
    return " Set orders.stock.day_first, or write it as 2026-09-30."


def _packs_remedy(cell: str) -> str:
    if "," in cell or "." in cell:
        return ' Correct it, or set orders.stock.decimal, the decimal mark, to "." or ",".'
    return " Correct it."


def _refuse(
    raw: RawTable,
    text: pd.Series,
    wrong: pd.Series,
    wanted: str,
    remedy: Callable[[str], str] = lambda _: " Correct it.",
) -> None:
    """Stop at the first row whose cell is wrong; ``text`` holds the cells, by their row of the table."""
    if not wrong.any():
        return
    first = int(wrong.to_numpy().argmax())
    cell = text.iloc[first]
    found, after = ("an empty cell", " Fill it in, or delete the row.") if pd.isna(cell) else (repr(cell), remedy(cell))
    place = _place(raw, int(text.index[first]))
    raise InputError(f"{raw.label}: {place}: found {found} for `{text.name}`, expected {wanted}.{after}")


def _place(raw: RawTable, position: int) -> str:
    """Return where a row is, as a person finds it in the file if the format says so."""
    if raw.places is None:
        return f"row {raw.rows[position]}"
    return f"{'line' if raw.stored_as_number is None else 'row'} {raw.places[position]}"


def _not_read(raw: RawTable, blank: int) -> list[str]:
    """Return what to report of rows that hold no stock."""
    notices = [f"{raw.label}: {counted(blank, 'blank row')} skipped."] if blank else []
    if len(raw.set_aside):
        first = raw.set_aside.iloc[0]
        notices.append(
            f"{raw.label}: {counted(len(raw.set_aside), 'row')} without stock set aside; the first is row "
            f'{first["place"]}, "{first["text"]}".'
        )
    return notices
