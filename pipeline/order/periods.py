"""When each open core is to be reinstated: as planned, by its due date, or by a levelled schedule; and the period."""

import datetime as dt
from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import NO_DATE
from pipeline.programme.orders import Ordering

__all__ = ["plan_cores", "written"]

_WEEK: Final = 7


def plan_cores(cores: pd.DataFrame, ordering: Ordering, as_of: dt.date) -> pd.DataFrame:
    """Return the day on which each open core is to be reinstated, and its period.

    Parameters
    ----------
    cores
        N open cores: ``planned_on``, ``opened_on`` (instants), ``allowed_days`` (how long the rules let a core stay
        open; missing without a limit), ``district``, ``segment_id``, ``chainage_m``, ``row``.
    ordering
        The kind of period, and how many cores the crews of a district reinstate per week.
    as_of
        The first day of the plan; a core that is overdue by then is due on that day.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: ``day`` (without a time zone, missing without a date), ``planned_by`` ("plan", "due date",
        "levelled schedule" or "no date"), ``period`` (text that sorts by time, such as 2026-W40), ``period_start``. At
        the stated rate, a core without a date gets a slot in the first week with capacity in its district, beside the
        cores that have a date, street by street.
    """
    today = pd.Timestamp(as_of)
    planned = _day(cores["planned_on"])
    falls_due = _day(cores["opened_on"]) + pd.to_timedelta(cores["allowed_days"], unit="D")
    day = planned.fillna(falls_due)
    day = day.mask(day.lt(today), today)
    by = pd.Series(np.select([planned.notna(), falls_due.notna()], ["plan", "due date"], "no date"), cores.index)
    undated = day.isna()
    if undated.any():
        levelled = _level(cores, day, ordering, today)
        by = by.mask(undated & levelled.notna(), "levelled schedule")
        day = day.fillna(levelled)
    start = _start(day, ordering.period, today)
    return pd.DataFrame(
        {"day": day, "planned_by": by.astype("str"), "period": _name(start, ordering.period), "period_start": start}
    )


def _day(instants: pd.Series) -> pd.Series:
    day: pd.Series = instants.dt.tz_localize(None).dt.normalize()
    return day


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
    return written(start, form).fillna(NO_DATE)


def written(days: pd.Series, form: str) -> pd.Series:
    """Return N days as text, by a ``strftime`` format; each different day is formatted once."""
    codes, uniques = pd.factorize(days)
    # a missing day has code -1 and gets the text at the end
    texts = pd.Series([*pd.DatetimeIndex(uniques).strftime(form), None], dtype="str")
    return texts.iloc[codes].set_axis(days.index)


def _level(cores: pd.DataFrame, day: pd.Series, ordering: Ordering, today: pd.Timestamp) -> pd.Series:
    """Return the Monday (or today) of the week of each undated core's slot; missing without a rate."""
    out = pd.Series(pd.NaT, cores.index, dtype=day.dtype)
    this_week = today - pd.Timedelta(days=today.day_of_week)
    in_order = cores[day.isna()].sort_values(["segment_id", "chainage_m", "row"], kind="stable", na_position="last")
    for district, waiting in in_order.groupby("district", sort=True):
        rate = ordering.cores_per_week_in(str(district))
        if rate is None:
            continue
        dated = day[cores["district"].eq(district) & day.notna()]
        weeks = ((dated - this_week).dt.days // _WEEK).to_numpy(dtype=np.int64)
        horizon = int(weeks.max(initial=-1)) + 1 + int(np.ceil(len(waiting) / rate)) + 1
        taken = np.bincount(weeks, minlength=horizon)[:horizon]
        # a rate of 2.5 is two cores in one week and three in the next
        room = np.maximum(np.arange(1, horizon + 1) * rate - np.cumsum(taken), 0)
        room = np.maximum.accumulate(np.floor(np.minimum.accumulate(room[::-1])[::-1] + 1e-9))
        week = np.searchsorted(room, np.arange(1, len(waiting) + 1))
        monday = this_week + pd.to_timedelta(week * _WEEK, unit="D")
        out.loc[waiting.index] = monday.where(monday >= today, today)
    return out
