"""The period that each day of the plan falls into."""

import datetime as dt

import pandas as pd

__all__ = ["periods_of", "written"]


def periods_of(day: pd.Series, period: str, as_of: dt.date) -> dict[str, pd.Series]:
    """Return the ``period`` of N days (text that sorts by time, such as 2026-W40) and its ``period_start``."""
    start = _start(day, period, pd.Timestamp(as_of))
    return {"period": _name(start, period), "period_start": start}


def _start(day: pd.Series, period: str, today: pd.Timestamp) -> pd.Series:
    if period == "all":
        return day.mask(day.notna(), today)
    if period == "month":
        first: pd.Series = day.dt.to_period("M").dt.start_time
        return first
    monday: pd.Series = day - pd.to_timedelta(day.dt.day_of_week, unit="D")
    return monday


def _name(start: pd.Series, period: str) -> pd.Series:
    if period == "all":
        return pd.Series("all", start.index, dtype="str")
    # the week and year of ISO 8601
    form = "%Y-%m" if period == "month" else "%G-W%V"
    return written(start, form)


def written(days: pd.Series, form: str) -> pd.Series:
    """Return N days as text, by a ``strftime`` format; each different day is formatted once."""
    codes, uniques = pd.factorize(days)
    # a missing day has code -1 and gets the text at the end
    texts = pd.Series([*pd.DatetimeIndex(uniques).strftime(form), None], dtype="str")
    return texts.iloc[codes].set_axis(days.index)
