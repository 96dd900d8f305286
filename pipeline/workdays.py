"""Working days: between two dates, by the public holidays of a country or a part of it."""

from typing import Final

import holidays
import numpy as np
import numpy.typing as npt
import pandas as pd

__all__ = ["holiday_days", "working_days_between"]

Days = npt.NDArray[np.datetime64]
_NO_DAYS: Final = np.array([], dtype="datetime64[D]")


def holiday_days(region: str | None, years: tuple[int, int]) -> Days:
    """Return the public holidays of a region.

    Parameters
    ----------
    region
        ISO 3166 code of a country, with that of a part where holidays differ: "NL", "GB-ENG", "CA-ON". None: none.
    years
        First and last year.

    Raises
    ------
    ValueError
        The code is not one that is known; the text names those that are.
    """
    if region is None:
        return _NO_DAYS
    country, _, part = region.strip().upper().partition("-")
    parts = holidays.list_supported_countries().get(country)
    if parts is None:
        raise ValueError(
            f"found {region!r}, expected a country and, where holidays differ, its part: CA-ON, GB-ENG, NL"
        )
    if part and part not in parts:
        raise ValueError(f"found {region!r}, where the parts known are: {', '.join(parts) or 'none'}")
    known = holidays.country_holidays(country, subdiv=part or None, years=range(years[0], years[1] + 1))
    return np.array(sorted(known), dtype="datetime64[D]")


def working_days_between(start: pd.Series, end: pd.Series, region: str | None) -> pd.Series:
    """Count the working days from one day to another: the day after ``start`` is the first, ``end`` counts.

    Parameters
    ----------
    start, end
        N days, without a time zone; missing where not known.
    region
        As for :func:`holiday_days`; Saturdays and Sundays are never working days.

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
    free = holiday_days(region, (int(years.min()), int(years.max())))
    # numpy counts the start and leaves the end out: a day on for both
    counts[known] = np.busday_count(first + 1, last + 1, holidays=free).astype(float)
    return counts
