"""Dates of the tables as a GeoPackage has them: days, or instants in UTC, one kind per column."""

from collections.abc import Iterable

import pandas as pd
import pyarrow as pa

__all__ = ["as_dates", "with_dates"]


def with_dates(table: pd.DataFrame, names: Iterable[str]) -> pd.DataFrame:
    """Return a table whose columns of these names hold dates; names that it lacks are ignored."""
    return table.assign(**{name: as_dates(table[name]) for name in names if name in table})


def as_dates(written: pd.Series) -> pd.Series:
    """Return dates written by ISO 8601 as days, or as instants in UTC where any of them has a time of day.

    In a column of instants, a day without a time is that day at 0:00 UTC, so that the day stays what it was. A column
    of dates that is no text is returned as it is, days without a time of day as such.
    """
    if not isinstance(written.dtype, pd.StringDtype):
        return _as_days(written) if pd.api.types.is_datetime64_dtype(written.dtype) else written
    # many cores have the same day: each is read once
    codes, different = pd.factorize(written)
    once = pd.Series(different)
    is_timed = once.str.len().gt(len("2026-09-30"))
    read = pd.to_datetime(once, format="ISO8601", utc=True).dt.as_unit("ms")
    dates = read.reindex(codes).set_axis(written.index)
    return dates if is_timed.any() else _as_days(dates.dt.tz_localize(None))


def _as_days(instants: pd.Series) -> pd.Series:
    days: pd.Series = instants.astype(pd.ArrowDtype(pa.timestamp("ms"))).astype(pd.ArrowDtype(pa.date32()))
    return days
