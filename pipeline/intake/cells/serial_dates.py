"""Dates as spreadsheets store them: days counted from 1900 or 1904, the time of day as a fraction."""

from typing import Final

import pandas as pd

__all__ = ["could_be_serial", "serial_times"]

# a wider range would take years (2026) and days written in digits alone (260301, 20260301) for counts of days
_FEWEST_DAYS: Final = 20_000  # 3 October 1954
_MOST_DAYS: Final = 80_000  # 10 January 2119
_WRITTEN: Final = r"[0-9]{5}(?:\.[0-9]+)?"
# the count from 1900 takes that year for a leap year, so that from March 1900 on it seems to begin a day earlier
_DAY_ZERO: Final = pd.Timestamp("1899-12-30")
_DAY_ZERO_1904: Final = pd.Timestamp("1904-01-01")
_DAYS_BETWEEN: Final = (_DAY_ZERO_1904 - _DAY_ZERO).days


def could_be_serial(text: pd.Series, *, is_1904: bool = False) -> pd.Series:
    """Return whether each text is a bare number that counts days to a date from October 1954 to January 2119."""
    return _days_from_1900(text, is_1904=is_1904).notna()


def serial_times(text: pd.Series, *, is_1904: bool) -> pd.Series:
    """Return the local times that serial numbers stand for, to the second.

    Parameters
    ----------
    text
        N texts, or missing.
    is_1904
        Whether day 0 is 1 January 1904; else 1 March 1900 is day 61.

    Returns
    -------
    pandas.Series
        N times without a zone; missing where :func:`could_be_serial` is false.
    """
    days = _days_from_1900(text, is_1904=is_1904)
    # a fraction of a day such as 0.6041666667 is a clock time only once it is rounded
    seconds = (days * pd.Timedelta("1D").total_seconds()).round()
    return (_DAY_ZERO + pd.to_timedelta(seconds, unit="s")).astype("datetime64[us]")


def _days_from_1900(text: pd.Series, *, is_1904: bool) -> pd.Series:
    """Return serial numbers as the count from 1900; missing where a text is not one."""
    digits = text.str.strip()
    days = pd.to_numeric(digits.where(digits.str.fullmatch(_WRITTEN).eq(True)), errors="coerce")
    days = days + (_DAYS_BETWEEN if is_1904 else 0)
    return days.where(days.between(_FEWEST_DAYS, _MOST_DAYS))
