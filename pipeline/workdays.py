"""Working days between two dates, by the public holidays of a country or a part of one."""

import datetime as dt
from typing import Final, NamedTuple

import holidays
import numpy as np
import numpy.typing as npt
import pandas as pd

__all__ = ["Calendar", "holiday_days", "working_days_after", "working_days_between"]

Days = npt.NDArray[np.datetime64]
_SUNDAY: Final = 6
_NO_DAYS: Final = np.array([], dtype="datetime64[D]")


class Calendar(NamedTuple):
    """The public holidays of a region.

    ``region``: ISO 3166 code of a country, with its part where holidays differ: "NL", "GB-ENG", "CA-ON".
    ``has_substitutes``: whether the days off that the holidays package has in place of holidays on a weekend count.
    ``sunday_to_monday``: holidays that the law puts on the Monday when they fall on a Sunday, as "07-01". ``also``:
    further days off.
    """

    region: str
    has_substitutes: bool = True
    sunday_to_monday: tuple[str, ...] = ()
    also: tuple[dt.date, ...] = ()


def holiday_days(calendar: Calendar | None, years: tuple[int, int]) -> Days:
    """Return the public holidays of a region.

    Parameters
    ----------
    calendar
        The region and its days off. None: no holidays.
    years
        First and last year.

    Raises
    ------
    ValueError
        The code is not known; the message names those that are, or examples.
    """
    if calendar is None:
        return _NO_DAYS
    region = calendar.region
    country, _, part = region.strip().upper().partition("-")
    parts = holidays.list_supported_countries().get(country)
    if parts is None:
        raise ValueError(
            f"found {region!r}, expected the code of a country or of a part of one, such as NL, GB-ENG or CA-ON"
        )
    if part and part not in parts:
        wanted = f"{country} alone, or with one of: {', '.join(parts)}" if parts else f"{country}, which has no parts"
        raise ValueError(f"found {region!r}, expected {wanted}")
    # the calendar ends with the year 9999
    every = range(years[0], min(years[1], dt.MAXYEAR) + 1)
    known = holidays.country_holidays(country, subdiv=part or None, years=every, observed=calendar.has_substitutes)
    moved = [dt.date.fromisoformat(f"{year}-{day}") for year in every for day in calendar.sunday_to_monday]
    mondays = [day + dt.timedelta(days=1) for day in moved if day.weekday() == _SUNDAY]
    return np.array(sorted({*known, *mondays, *calendar.also}), dtype="datetime64[D]")


def working_days_between(start: pd.Series, end: pd.Series, calendar: Calendar | None) -> pd.Series:
    """Return the number of working days after ``start`` up to and including ``end``.

    Parameters
    ----------
    start, end
        N days without a time zone, or missing.
    calendar
        As in :func:`holiday_days`; Saturdays and Sundays are never working days.

    Returns
    -------
    pandas.Series
        N floats on the index of ``start``; missing where either day is, negative where the end comes first.
    """
    known = start.notna() & end.notna()
    first, last = (days[known].to_numpy().astype("datetime64[D]") for days in (start, end))
    counts = pd.Series(np.nan, start.index)
    if not len(first):
        return counts
    years = np.concatenate([first, last]).astype("datetime64[Y]").astype(int) + 1970
    free = holiday_days(calendar, (int(years.min()), int(years.max())))
    # numpy counts the start and not the end, so both move by a day
    counts[known] = np.busday_count(first + 1, last + 1, holidays=free).astype(float)
    return counts


def working_days_after(start: pd.Series, count: pd.Series | float, calendar: Calendar | None) -> pd.Series:
    """Return for each day the working day that is ``count`` working days later.

    Parameters
    ----------
    start
        N days without a time zone, or missing.
    count
        Working days, 0 or more: one number, or N on the index of ``start``. A part of a day does not count.
    calendar
        As in :func:`holiday_days`; Saturdays and Sundays are never working days.

    Returns
    -------
    pandas.Series
        N days on the index of ``start``; missing where ``start`` is.
    """
    days = pd.Series(pd.NaT, start.index, dtype="datetime64[us]")
    known = start.notna()
    if not known.any():
        return days
    first = start[known].to_numpy().astype("datetime64[D]")
    counts = (count[known].to_numpy() if isinstance(count, pd.Series) else np.full(len(first), count)).astype("int64")
    years = first.astype("datetime64[Y]").astype(int) + 1970
    # a working year has more than 200 days, so the last one ends within these
    free = holiday_days(calendar, (int(years.min()), int(years.max()) + 1 + int(counts.max()) // 200))
    # from a free day the count starts at the working day before it
    days[known] = np.busday_offset(first, counts, roll="backward", holidays=free)
    return days
