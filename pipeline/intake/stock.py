"""The table of stock: what each yard has of each item, and what is on its way to it."""

from pathlib import Path
from typing import Final

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
    """Read the table: ``yard``, ``item``, ``packs``, ``arrives_on`` and ``expires_on`` (days, missing where not said).

    Parameters
    ----------
    stock
        Where it lies, and how its columns are called.
    folder
        Where the programme file lies.
    items
        The items there are; a row of another stops the reading, since it would be netted off nothing.
    day_first
        How dates such as 03/04/2026 are meant.

    Raises
    ------
    InputError
        A column is missing, a number or a date cannot be read, or an item does not exist.
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
            _refuse(raw.label, dates.problem.notna(), raw.rows, text[name], name, "a date such as 2026-09-30")
            table[name] = dates.instants.dt.tz_localize(None)
        else:
            table[name] = pd.Series(pd.NaT, table.index, dtype="datetime64[us]")
    _refuse(raw.label, ~table["item"].isin(items), raw.rows, text["item"], "item", "one of: " + ", ".join(items))
    return table


def _refuse(label: str, wrong: pd.Series, rows: object, text: pd.Series, name: str, wanted: str) -> None:
    if wrong.any():
        place = int(wrong.to_numpy().argmax())
        row = list(rows)[place] if hasattr(rows, "__iter__") else place + 1
        raise InputError(f"{label}: row {row}: found {text.iloc[place]!r} for `{name}`, expected {wanted}. Correct it.")
