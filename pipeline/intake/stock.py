"""The table of stock: what each yard has of each item, and what is being delivered to it."""

from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.contracts import Column
from pipeline.errors import InputError
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.cells.numbers import read_numbers
from pipeline.intake.files.layers import read_raw
from pipeline.intake.register import find_column
from pipeline.programme.orders import Stock
from pipeline.programme.settings import Layer

__all__ = ["read_stock"]

_TEXTS: Final = ("yard", "item")
_DATES: Final = ("arrives_on", "expires_on")


def read_stock(stock: Stock, folder: Path, items: list[str], *, day_first: bool | None) -> pd.DataFrame:
    """Return the stock: ``yard``, ``item``, ``packs``, ``arrives_on`` and ``expires_on`` (days, missing where blank).

    Parameters
    ----------
    stock
        Path of the table, and what its columns are called.
    folder
        Folder of the programme file, which the path is relative to.
    items
        The items that can be ordered; stock of anything else is refused, since no order could be reduced by it.
    day_first
        Whether 03/04/2026 is 3 April; None refuses such a date.

    Raises
    ------
    InputError
        A column is missing, a number or a date cannot be read, or an item cannot be ordered.
    """
    raw = read_raw(Layer(path=stock.path, columns=stock.columns), folder, "orders.stock", None)
    found = {
        name: find_column(raw, stock.columns, Column(name, "text"), "orders.stock")
        for name in (*_TEXTS, "packs", *_DATES)
    }
    for name in (*_TEXTS, "packs"):
        if found[name] is None:
            raise InputError(
                f"{raw.label}: no column for `{name}`; the file has: {', '.join(raw.frame.columns)}. "
                f'Set orders.stock.columns.{name} = "..." in the programme file.'
            )
    text = {name: raw.frame[source].str.strip() for name, source in found.items() if source is not None}
    table = pd.DataFrame({name: text[name] for name in _TEXTS})
    table["packs"] = read_numbers(text["packs"], None)
    unread = table["packs"].isna() | table["packs"].lt(0)
    _refuse(raw.label, unread, raw.rows, text["packs"], "packs", "a number of packs")
    for name in _DATES:
        if name in text:
            dates = read_dates(text[name], "UTC", day_first=day_first)
            # which of the two comes first is set for registers, and this table may be written otherwise
            unsettled, wanted = dates.problem.eq("day or month first"), "a date such as 2026-09-30"
            _refuse(raw.label, unsettled, raw.rows, text[name], name, f"{wanted}, as day or month may come first")
            _refuse(raw.label, dates.problem.notna(), raw.rows, text[name], name, wanted)
            table[name] = dates.instants.dt.tz_localize(None)
        else:
            table[name] = pd.Series(pd.NaT, table.index, dtype="datetime64[us]")
    _refuse(raw.label, ~table["item"].isin(items), raw.rows, text["item"], "item", "one of: " + ", ".join(items))
    return table


def _refuse(label: str, wrong: pd.Series, rows: npt.NDArray[np.int64], text: pd.Series, name: str, wanted: str) -> None:
    """Stop at the first row whose cell is wrong."""
    if wrong.any():
        first = int(wrong.to_numpy().argmax())
        cell = text.iloc[first]
        found = "an empty cell" if pd.isna(cell) else repr(cell)
        raise InputError(f"{label}: row {rows[first]}: found {found} for `{name}`, expected {wanted}. Correct it.")
