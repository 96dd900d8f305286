"""Dates as people write them; whether the day or the month comes first is a setting, never a guess."""

from typing import Final, NamedTuple

import pandas as pd

from pipeline.contracts import is_missing, no_text

__all__ = ["DateReading", "read_dates"]

_MONTHS: Final = {
    name: number
    for number, names in enumerate(
        (
            ("jan", "january"),
            ("feb", "february"),
            ("mar", "march"),
            ("apr", "april"),
            ("may",),
            ("jun", "june"),
            ("jul", "july"),
            ("aug", "august"),
            ("sep", "sept", "september"),
            ("oct", "october"),
            ("nov", "november"),
            ("dec", "december"),
        ),
        start=1,
    )
    for name in names
}
_TIME: Final = (
    r"(?:[T\s]+(?P<hour>[0-9]{1,2}):(?P<minute>[0-9]{2})(?::(?P<second>[0-9]{2})(?:[.,][0-9]+)?)?\s*"
    r"(?P<half>[AaPp]\.?[Mm]\.?)?\s*(?P<zone>Z|z|[+-][0-9]{2}:?[0-9]{2})?)?"
)
_ISO: Final = rf"^(?P<year>[0-9]{{4}})(?P<mark>[-/.]?)(?P<month>[0-9]{{2}})(?P=mark)(?P<day>[0-9]{{2}}){_TIME}$"
_YEAR: Final = r"(?P<year>[0-9]{4}|[0-9]{2})"
_LOCAL: Final = rf"^(?P<first>[0-9]{{1,2}})(?P<mark>[-/.])(?P<second_part>[0-9]{{1,2}})(?P=mark){_YEAR}{_TIME}$"
_DAY_NAMED: Final = (
    rf"^(?P<day>[0-9]{{1,2}})(?:st|nd|rd|th)?\.?[\s-]*(?P<name>[A-Za-z]{{3,9}})\.?,?[\s-]*{_YEAR}{_TIME}$"
)
_NAMED_DAY: Final = rf"^(?P<name>[A-Za-z]{{3,9}})\.?\s+(?P<day>[0-9]{{1,2}})(?:st|nd|rd|th)?,?\s+{_YEAR}{_TIME}$"


class DateReading(NamedTuple):
    """One column of dates as read.

    ``instants``: N instants in the programme's time zone, midnight where only a day was written. ``problem``: N texts,
    missing where the cell was read or is empty; else ``unreadable``, ``day or month first`` (no setting decides it) or
    ``spreadsheet serial number``.
    """

    instants: pd.Series
    problem: pd.Series


def read_dates(text: pd.Series, timezone: str, *, day_first: bool | None) -> DateReading:
    """Return one column of dates or instants as read.

    Parameters
    ----------
    text
        N texts, or missing.
    timezone
        IANA name; an instant written without an offset is in this zone, one with an offset is converted to it.
    day_first
        Whether 03/04/2026 is 3 April; None refuses such a date.

    Returns
    -------
    DateReading
        On the index of ``text``.
    """
    codes, uniques = pd.factorize(text.where(~is_missing(text)))
    # each distinct text is read once; a missing cell has code -1, which is the row added at the end
    read = _read_uniques(pd.Series([*uniques, None], dtype="str").str.strip(), timezone, day_first=day_first)
    instants, problem = (column.iloc[codes].set_axis(text.index) for column in read)
    return DateReading(instants, problem)


def _read_uniques(text: pd.Series, timezone: str, *, day_first: bool | None) -> DateReading:
    """Return distinct texts as read."""
    local = text.str.extract(_LOCAL)
    day, month = ("first", "second_part") if day_first else ("second_part", "first")
    unsettled = local["first"].notna() & (day_first is None)
    parts = text.str.extract(_ISO)
    for more in (
        local.assign(day=local[day], month=local[month])[~unsettled],
        _with_month_number(text.str.extract(_DAY_NAMED)),
        _with_month_number(text.str.extract(_NAMED_DAY)),
    ):
        parts = parts.fillna(more)
    instants = _instants(parts, timezone)

    problem = no_text(text.index)
    problem[instants.isna() & text.notna()] = "unreadable"
    problem[unsettled] = "day or month first"
    # spreadsheets count days: 36526 is 1 January 2000 and 73050 is the last day of 2099
    serial = pd.to_numeric(text.where(text.str.fullmatch(r"[0-9]{5}(?:\.[0-9]+)?")), errors="coerce")
    problem[serial.between(20000, 80000)] = "spreadsheet serial number"
    return DateReading(instants, problem)


def _with_month_number(parts: pd.DataFrame) -> pd.DataFrame:
    """Return the parts of dates with a named month, the name as a number; a word that is not a month gives no row."""
    number = parts["name"].str.casefold().map(_MONTHS)
    return parts.assign(month=number)[number.notna()].astype({"month": "Int64"}).astype({"month": "str"})


def _instants(parts: pd.DataFrame, timezone: str) -> pd.Series:
    """Return the instants that year, month, day, clock time and offset make; missing where they make none."""
    numbers = parts[["year", "month", "day", "hour", "minute", "second"]].apply(pd.to_numeric)
    # a year of two digits lies in the hundred years from 1970 on
    short = numbers["year"].lt(100)
    numbers["year"] = numbers["year"].mask(short, (numbers["year"] - 70) % 100 + 1970)
    clock = numbers[["hour", "minute", "second"]].fillna(0)
    half = parts["half"].str.casefold().str.slice(0, 1)
    clock["hour"] = clock["hour"].mask(half.eq("a") & clock["hour"].eq(12), 0)
    clock["hour"] = clock["hour"].mask(half.eq("p") & clock["hour"].lt(12), clock["hour"] + 12)
    days = pd.to_datetime(numbers[["year", "month", "day"]], errors="coerce").astype("datetime64[us]")
    # an offset could move the first and the last years out of the calendar
    days = days.where(numbers["year"].between(1000, 9998))
    in_clock = clock["hour"].lt(24) & clock["minute"].lt(60) & clock["second"].lt(60)
    seconds = pd.to_timedelta(clock["hour"] * 3600 + clock["minute"] * 60 + clock["second"], unit="s")
    naive = (days + seconds).where(in_clock)
    # an hour that the clocks skip in spring is moved on; one that they repeat in autumn is read as the first of the two
    here = naive.dt.tz_localize(timezone, ambiguous=True, nonexistent="shift_forward")
    zone = parts["zone"].str.upper().str.replace(":", "", regex=False).where(parts["zone"].ne("Z"), "+0000")
    zone = zone.replace("Z", "+0000")
    sign = zone.str.slice(0, 1).map({"+": 1, "-": -1})
    minutes = sign * (pd.to_numeric(zone.str.slice(1, 3)) * 60 + pd.to_numeric(zone.str.slice(3, 5)))
    offset = pd.to_timedelta(minutes, unit="min")
    abroad = (naive - offset).dt.tz_localize("UTC").dt.tz_convert(timezone)
    instants: pd.Series = here.mask(offset.notna(), abroad).astype(f"datetime64[us, {timezone}]")
    return instants
