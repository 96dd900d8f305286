"""Thresholds: read once from what is written, one value for all cores or a column of them."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from pipeline.errors import SettingsError
from pipeline.units import quantity

__all__ = ["Bands", "Limit", "by_width", "months_after", "read_limit", "shown_limit", "with_place"]

_LAST = "above"


@dataclass(frozen=True)
class Bands:
    """A limit that depends on a width: up to each of ``ends``, included, the ``values`` beside it; then the last one.

    All in millimetres; one value more than ends.
    """

    ends: tuple[float, ...]
    values: tuple[float, ...]


Limit = float | pd.Timestamp | Bands


def read_limit(value: object, unit: str, where: str) -> Limit:
    """Read one threshold: a date, a limit by width, or a quantity in ``unit``.

    Raises
    ------
    SettingsError
        It cannot be read so.
    """
    if unit == "date":
        if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
            return pd.Timestamp(value)
        raise SettingsError(f"{where}: found {value!r}, expected a date such as 1990-01-01.")
    try:
        return _bands(value) if unit == "bands" else quantity(value, unit)
    except ValueError as error:
        raise SettingsError(f"{where}: {error}.") from error


def _bands(value: object) -> Bands:
    wanted = 'expected pairs of width and limit, rising, such as [["400 mm", "10 mm"], ["above", "12 mm"]]'
    pairs = value if isinstance(value, list) else []
    if not pairs or any(not isinstance(pair, list) or len(pair) != 2 for pair in pairs) or pairs[-1][0] != _LAST:
        raise ValueError(f"found {value!r}, {wanted}")
    ends = tuple(quantity(pair[0], "mm") for pair in pairs[:-1])
    if list(ends) != sorted(set(ends)):
        raise ValueError(f"found {value!r}, {wanted}")
    return Bands(ends, tuple(quantity(pair[1], "mm") for pair in pairs))


def shown_limit(written: object) -> str:
    """Return a threshold as it is written, on one line."""
    if isinstance(written, dt.date):
        return written.isoformat()
    if isinstance(written, list):
        ends = [f"up to {end}: {value}" for end, value in written[:-1]]
        return "; ".join([*ends, f"above: {written[-1][1]}"])
    return str(written)


def with_place(below: Any, here: pd.Series, limit: Limit) -> pd.Series:  # noqa: ANN401 - a value or a column of them
    """Return a column of N limits: ``limit`` where it holds, else what was there."""
    column = below if isinstance(below, pd.Series) else _column(below, here.index)
    return column.where(~here, _column(limit, here.index))


def _column(limit: Limit, index: pd.Index) -> pd.Series:
    if not isinstance(limit, Bands):
        return pd.Series(limit, index=index)
    cells = np.empty(len(index), dtype=object)
    cells.fill(limit)
    return pd.Series(cells, index=index)


def by_width(limit: Bands | pd.Series, width_mm: pd.Series) -> pd.Series:
    """Return the limit of each of N widths, in millimetres; a width on the end of a band belongs to it."""
    if isinstance(limit, Bands):
        return pd.Series(np.asarray(limit.values)[np.searchsorted(limit.ends, width_mm)], width_mm.index)
    out = pd.Series(np.nan, width_mm.index)
    for bands in dict.fromkeys(limit.tolist()):
        here = limit.eq(bands)
        out[here] = by_width(bands, width_mm[here])
    return out


def months_after(days: pd.Series, months: float | pd.Series) -> pd.Series:
    """Return N days so many calendar months on; the 31st becomes the month's last day where it has none."""
    if not isinstance(months, pd.Series):
        later: pd.Series = days + pd.DateOffset(months=round(months))
        return later
    out = days.copy()
    for count in months.unique():
        here = months.eq(count)
        out[here] = days[here] + pd.DateOffset(months=round(count))
    return out
