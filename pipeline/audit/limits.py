"""Limits of rules: the kinds there are, each with its unit, and how one is read, varied by road and applied."""

import datetime as dt
import re
from dataclasses import dataclass, fields
from typing import Annotated, Any, Final, get_type_hints

import numpy as np
import pandas as pd

from pipeline.contracts import shown_unit
from pipeline.errors import ContractError, SettingsError
from pipeline.programme.ranges import Range, day_within, shortened

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
    "PositiveMillimetres",
    "Share",
    "ShareOrMore",
    "WorkingDays",
    "limit_fields",
    "limit_in_words",
    "months_after",
    "read_limit",
    "vary_limit",
    "widths_limit",
]

_LAST = "above"
# of limits by width
_WIDTH: Final = Range("mm", above="0 mm", most="10 m")
_DEPRESSION: Final = Range("mm", least="0 mm", most="1 m")


@dataclass(frozen=True)
class Bands:
    """A limit that depends on a width: ``values`` beside each of ``ends``, up to and including it; then the last value.

    All in millimetres; one value more than ends.
    """

    ends: tuple[float, ...]
    values: tuple[float, ...]


@dataclass(frozen=True)
class _Unit:
    """The unit a rule wants a limit in, the ending that shows it in the field's name, and the limits that are possible.

    ``within`` is None for dates and for limits by width, which have ends of their own.
    """

    unit: str
    ending: str = ""
    within: Range | None = None


# one limit, as it is read from one line of the settings
Limit = float | pd.Timestamp | Bands
# what a rule is given: one limit for all cores, or a column with one per core
_Number = float | pd.Series
Millimetres = Annotated[_Number, _Unit("mm", "_mm", Range("mm", least="0 mm", most="10 m"))]
PositiveMillimetres = Annotated[_Number, _Unit("mm", "_mm", Range("mm", above="0 mm", most="10 m"))]
Metres = Annotated[_Number, _Unit("m", "_m", Range("m", least="0 m", most="1 km"))]
Days = Annotated[_Number, _Unit("day", "_days", Range("day", least="0 day", most="36500 day"))]
WorkingDays = Annotated[
    _Number, _Unit("working day", "_working_days", Range("working day", least="0 working day", most="2600 working day"))
]
Months = Annotated[_Number, _Unit("month", "_months", Range("month", least="0 month", most="100 year"))]
Minutes = Annotated[_Number, _Unit("min", "_min", Range("min", least="0 min", most="30 day"))]
Celsius = Annotated[_Number, _Unit("degC", "_c", Range("degC", least="-60 degC", most="100 degC"))]
LitresPerKilogram = Annotated[_Number, _Unit("L/kg", "_l_per_kg", Range("L/kg", above="0 L/kg", most="2 L/kg"))]
Share = Annotated[_Number, _Unit("%", within=Range("%", least="0 %", most="100 %"))]
# such as a share of what is needed, which may exceed 100 %
ShareOrMore = Annotated[_Number, _Unit("%", within=Range("%", least="0 %", most="1000 %"))]
Count = Annotated[_Number, _Unit("", within=Range("", least="0", most="1000000"))]
Day = Annotated[pd.Timestamp | pd.Series, _Unit("date")]
ByWidth = Annotated[Bands | pd.Series, _Unit("bands", "_mm")]


@dataclass(frozen=True)
class LimitField:
    """One field of a rule's limits: its name in code, its key in the settings, the unit wanted, its range."""

    name: str
    key: str
    unit: str
    within: Range | None = None


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
        found[key] = LimitField(one.name, key, unit.unit, unit.within)
    return found


def read_limit(value: object, field: LimitField, where: str) -> Limit:
    """Read one limit: a date, a limit by width, or a quantity in the unit of ``field``.

    Raises
    ------
    SettingsError
        The value is of another kind, has another unit, or cannot be.
    """
    try:
        if field.within is not None:
            return _quantity(value, field.within)
        return _bands(value) if field.unit == "bands" else _day(value)
    except ValueError as error:
        raise SettingsError(f"{where}: {error}. Correct it.") from error


def _quantity(value: object, within: Range) -> float:
    limit = within.read(value)
    # a part of a month has no number of days
    if within.unit == "month" and abs(limit - round(limit)) > _WHOLE:
        raise ValueError(f"found {shortened(value)}, expected whole months")
    return limit


def _day(value: object) -> pd.Timestamp:
    if not isinstance(value, dt.date) or isinstance(value, dt.datetime):
        raise ValueError(f"found {shortened(value)}, expected a date such as 1990-01-01")  # noqa: TRY004 - see read_limit
    day_within(value)
    return pd.Timestamp(value)


def _bands(value: object) -> Bands:
    wanted = 'expected pairs of width and limit, rising, such as [["400 mm", "10 mm"], ["above", "12 mm"]]'
    pairs = value if isinstance(value, list) else []
    if not pairs or any(not isinstance(pair, list) or len(pair) != 2 for pair in pairs) or pairs[-1][0] != _LAST:
        raise ValueError(f"found {shortened(value)}, {wanted}")
    ends = tuple(_WIDTH.read(pair[0]) for pair in pairs[:-1])
    if list(ends) != sorted(set(ends)):
        raise ValueError(f"found {shortened(value)}, {wanted}")
    return Bands(ends, tuple(_DEPRESSION.read(pair[1]) for pair in pairs))


_COUNTED: Final = ("day", "week", "month", "year")
# by how much a number of whole months may differ from one, once years are turned into months
_WHOLE: Final = 1e-6
# of the calendar
_LAST_DAY: Final = pd.Timestamp("9999-12-31")


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
    """Return N days moved on by calendar months, not beyond the calendar.

    The 31st becomes the last day of a month that has none.
    """
    counts = months if isinstance(months, pd.Series) else pd.Series(months, days.index)
    out = days.copy()
    for count in counts.unique():
        here = counts.eq(count)
        out.loc[here] = days[here] + pd.DateOffset(months=round(count))
    return out.where(out.isna() | out.le(_LAST_DAY), _LAST_DAY)
