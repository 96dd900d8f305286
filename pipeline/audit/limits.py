"""Limits of rules: the kinds there are, each with its unit, and how one is read, varied by road and applied."""

import datetime as dt
import re
from dataclasses import dataclass, fields
from typing import Annotated, Any, Final, get_type_hints

import numpy as np
import pandas as pd

from pipeline.contracts import shown_unit
from pipeline.errors import ContractError, SettingsError
from pipeline.units import quantity

__all__ = [
    "Bands",
    "ByWidth",
    "Celsius",
    "Count",
    "Day",
    "Days",
    "Limit",
    "LimitField",
    "LitresPerKilogram",
    "Metres",
    "Millimetres",
    "Minutes",
    "Months",
    "Share",
    "WorkingDays",
    "limit_fields",
    "limit_in_words",
    "months_after",
    "read_limit",
    "vary_limit",
    "widths_limit",
]

_LAST = "above"


@dataclass(frozen=True)
class Bands:
    """A limit that depends on a width: ``values`` beside each of ``ends``, up to and including it; then the last value.

    All in millimetres; one value more than ends.
    """

    ends: tuple[float, ...]
    values: tuple[float, ...]


@dataclass(frozen=True)
class _Unit:
    """The unit a rule wants a limit in, and the ending that shows it in the field's name."""

    unit: str
    ending: str = ""


# one limit, as it is read from one line of the settings
Limit = float | pd.Timestamp | Bands
# what a rule is given: one limit for all cores, or a column with one per core
_Number = float | pd.Series
Millimetres = Annotated[_Number, _Unit("mm", "_mm")]
Metres = Annotated[_Number, _Unit("m", "_m")]
Days = Annotated[_Number, _Unit("day", "_days")]
WorkingDays = Annotated[_Number, _Unit("working day", "_working_days")]
Months = Annotated[_Number, _Unit("month", "_months")]
Minutes = Annotated[_Number, _Unit("min", "_min")]
Celsius = Annotated[_Number, _Unit("degC", "_c")]
LitresPerKilogram = Annotated[_Number, _Unit("L/kg", "_l_per_kg")]
Share = Annotated[_Number, _Unit("%")]
Count = Annotated[_Number, _Unit("")]
Day = Annotated[pd.Timestamp | pd.Series, _Unit("date")]
ByWidth = Annotated[Bands | pd.Series, _Unit("bands", "_mm")]


@dataclass(frozen=True)
class LimitField:
    """One field of a rule's limits: its name in code, its key in the settings, the unit wanted."""

    name: str
    key: str
    unit: str


def limit_fields(limits: type | None) -> dict[str, LimitField]:
    """Return the fields of a dataclass of limits by their keys in the settings; the key is the name without its unit.

    Raises
    ------
    ContractError
        A field has no unit, or a name that does not end in it.
    """
    if limits is None:
        return {}
    kinds = get_type_hints(limits, include_extras=True)
    found = {}
    for one in fields(limits):
        unit = next((note for note in getattr(kinds[one.name], "__metadata__", ()) if isinstance(note, _Unit)), None)
        if unit is None or not one.name.endswith(unit.ending):
            wanted = unit.ending if unit else "a kind such as Millimetres"
            raise ContractError(f"{limits.__name__}.{one.name}: expected {wanted} (see audit/limits.py)")
        key = one.name.removesuffix(unit.ending)
        found[key] = LimitField(one.name, key, unit.unit)
    return found


def read_limit(value: object, unit: str, where: str) -> Limit:
    """Read one limit: a date, a limit by width, or a quantity in ``unit``.

    Raises
    ------
    SettingsError
        The value is of another kind or has another unit.
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


_COUNTED: Final = ("day", "week", "month", "year")


def limit_in_words(written: object) -> str:
    """Return a limit of the settings on one line, as people write it: ``"30 day"`` is "30 days"."""
    if isinstance(written, dt.date):
        return written.isoformat()
    if isinstance(written, list):
        ends = [f"up to {end}: {value}" for end, value in written[:-1]]
        return "; ".join([*ends, f"above: {written[-1][1]}"])
    match = re.fullmatch(r"\s*(\S+)\s+(.+?)\s*", str(written))
    if match is None:
        return str(written)
    number, unit = match.groups()
    if unit.endswith(_COUNTED) and number != "1":
        unit += "s"
    return f"{number} {shown_unit(unit)}"


def vary_limit(elsewhere: Any, here: pd.Series, limit: Limit) -> pd.Series:  # noqa: ANN401 - a value or a column of them
    """Return a column of N limits: ``limit`` where ``here`` is true, otherwise the one that applies elsewhere."""
    column = elsewhere if isinstance(elsewhere, pd.Series) else _column(elsewhere, here.index)
    return column.where(~here, _column(limit, here.index))


def _column(limit: Limit, index: pd.Index) -> pd.Series:
    if not isinstance(limit, Bands):
        return pd.Series(limit, index=index)
    cells = np.empty(len(index), dtype=object)
    cells.fill(limit)
    return pd.Series(cells, index=index)


def widths_limit(limit: Bands | pd.Series, width_mm: pd.Series) -> pd.Series:
    """Return the limit for each of N widths, both in millimetres; a width at the end of a band belongs to it."""
    if isinstance(limit, Bands):
        return pd.Series(np.asarray(limit.values)[np.searchsorted(limit.ends, width_mm)], width_mm.index)
    out = pd.Series(np.nan, width_mm.index)
    for bands in dict.fromkeys(limit.tolist()):
        here = limit.eq(bands)
        out.loc[here] = widths_limit(bands, width_mm[here])
    return out


def months_after(days: pd.Series, months: float | pd.Series) -> pd.Series:
    """Return N days moved on by calendar months; the 31st becomes the last day of a month that has none."""
    if not isinstance(months, pd.Series):
        later: pd.Series = days + pd.DateOffset(months=round(months))
        return later
    out = days.copy()
    for count in months.unique():
        here = months.eq(count)
        out.loc[here] = days[here] + pd.DateOffset(months=round(count))
    return out
