"""Dates as people write them; whether the day or the month comes first is a setting, never a guess."""

from typing import Final, NamedTuple

import pandas as pd

from pipeline.contracts import is_missing, no_text
from pipeline.intake.cells.serial_dates import could_be_serial, serial_times

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
    r"(?:[T\s]+(?P<hour>[0-9]{1,2})[:.](?P<minute>[0-9]{2})(?:[:.](?P<second>[0-9]{2})(?:[.,][0-9]+)?)?\s*"
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


def read_dates(
    text: pd.Series,
    timezone: str,
    *,
    day_first: bool | None,
    written_in: str | None = None,
    serial: pd.Series | None = None,
    is_1904: bool = False,
) -> DateReading:
    """Return one column of dates or instants as read.

    Parameters
    ----------
    text
        N texts, or missing.
    timezone
        IANA name of the zone that instants are returned in.
    day_first
        Whether 03/04/2026 is 3 April; None refuses such a date.
    written_in
        IANA name of the zone that times without an offset are in, where it is not ``timezone``. A day without a time
        stays that day, and so does one of a column that has midnight for every time, of no zone or all of UTC.
    serial
        N truths: a bare number in the cell counts days, as spreadsheets do. None: in no cell.
    is_1904
        Whether such days are counted from 1904.

    Returns
    -------
    DateReading
        On the index of ``text``.
    """
    written = text.where(~is_missing(text))
    zones = written_in or timezone, timezone
    times = None if serial is None else serial_times(written.where(serial), is_1904=is_1904)
    codes, uniques = pd.factorize(written if times is None else written.where(times.isna()))
    # each distinct text is read once; a missing cell has code -1, which is the row added at the end
    distinct = pd.Series(uniques, dtype="str").reindex(range(len(uniques) + 1))
    read = _read_uniques(distinct.str.strip(), zones, day_first=day_first)
    instants, problem = (column.iloc[codes].set_axis(text.index) for column in read)
    if times is not None and times.notna().any():
        instants = instants.fillna(_in_zone(times, times.eq(times.dt.normalize()), zones))
    return DateReading(instants, problem)


def _read_uniques(text: pd.Series, zones: tuple[str, str], *, day_first: bool | None) -> DateReading:
    """Return distinct texts as read; ``zones``: that of times without an offset, and that of instants."""
    rest = text.dropna()
    found, unsettled = [], text.index[:0]
    day, month = ("first", "second_part") if day_first else ("second_part", "first")
    for form in (_ISO, _LOCAL, _DAY_NAMED, _NAMED_DAY):
        every = rest.str.extract(form)
        is_form = every["year"].notna()
        parts, rest = every[is_form], rest[~is_form]
        if form is _LOCAL and day_first is None:
            unsettled = parts.index
        elif form is _LOCAL:
            found.append(parts.assign(day=parts[day], month=parts[month]))
        elif form is _ISO or len(parts):
            found.append(parts if form is _ISO else _with_month_number(parts))
        # most columns are written in one way
        if rest.empty:
            break
    parts = pd.concat(found).reindex(text.index)
    instants = _instants(parts, zones)

    problem = no_text(text.index)
    problem[instants.isna() & text.notna()] = "unreadable"
    problem[text.index.isin(unsettled)] = "day or month first"
    problem[could_be_serial(text)] = "spreadsheet serial number"
    return DateReading(instants, problem)


def _with_month_number(parts: pd.DataFrame) -> pd.DataFrame:
    """Return the parts of dates with a named month, the name as a number; a word that is not a month gives no row."""
    number = parts["name"].str.casefold().map(_MONTHS)
    return parts.assign(month=number)[number.notna()].astype({"month": "Int64"}).astype({"month": "str"})


def _instants(parts: pd.DataFrame, zones: tuple[str, str]) -> pd.Series:
    """Return the instants that year, month, day, clock time and offset make; missing where they make none."""
    numbers = parts[["year", "month", "day"]].apply(pd.to_numeric)
    # a year of two digits lies in the hundred years from 1970 on
    short = parts["year"].str.len().eq(2)
    numbers["year"] = numbers["year"].mask(short, (numbers["year"] - 70) % 100 + 1970)
    days = pd.to_datetime(numbers[["year", "month", "day"]], errors="coerce").astype("datetime64[us]")
    # an offset could move the first and the last years out of the calendar; of the last, which stands for "no end" in
    # databases, the day counts alone
    days = days.where(numbers["year"].between(1000, 9999))
    has_time = parts["hour"].notna() & numbers["year"].lt(9999)
    if not has_time.any():
        return _in_zone(days, ~has_time, zones)
    clock = parts[["hour", "minute", "second"]].apply(pd.to_numeric).fillna(0)
    half = parts["half"].str.casefold().str.slice(0, 1)
    clock["hour"] = clock["hour"].mask(half.eq("a") & clock["hour"].eq(12), 0)
    clock["hour"] = clock["hour"].mask(half.eq("p") & clock["hour"].lt(12), clock["hour"] + 12)
    in_clock = clock["hour"].lt(24) & clock["minute"].lt(60) & clock["second"].lt(60)
    seconds = pd.to_timedelta(clock["hour"] * 3600 + clock["minute"] * 60 + clock["second"], unit="s")
    seconds = seconds.where(has_time, pd.Timedelta(0))
    naive = (days + seconds).where(in_clock)
    # programs that have no type for a day write it as midnight
    only_midnights = seconds[has_time].eq(pd.Timedelta(0)).all()
    here = _in_zone(naive, ~has_time | only_midnights, zones)
    if parts["zone"].isna().all():
        in_one_zone: pd.Series = here.dt.as_unit("us")
        return in_one_zone
    zone = parts["zone"].str.upper().str.replace(":", "", regex=False).where(parts["zone"].ne("Z"), "+0000")
    zone = zone.replace("Z", "+0000")
    sign = zone.str.slice(0, 1).map({"+": 1, "-": -1})
    minutes = sign * (pd.to_numeric(zone.str.slice(1, 3)) * 60 + pd.to_numeric(zone.str.slice(3, 5)))
    offset = pd.to_timedelta(minutes, unit="min")
    abroad = (naive - offset).dt.tz_localize("UTC").dt.tz_convert(zones[1])
    offset = offset.where(has_time)
    if only_midnights and offset.dropna().eq(pd.Timedelta(0)).all():
        # that is how a day is written too by what puts every time in UTC
        offset = offset.mask(offset.notna())
    instants: pd.Series = here.mask(offset.notna(), abroad).dt.as_unit("us")
    return instants


def _in_zone(naive: pd.Series, is_day: pd.Series, zones: tuple[str, str]) -> pd.Series:
    """Return local times of the first zone as instants in the second; a day is midnight of the second."""

    def localized(times: pd.Series, zone: str) -> pd.Series:
        # an hour that clocks skip in spring is moved on; one that they repeat in autumn is read as the first of the two
        local: pd.Series = times.dt.tz_localize(zone, ambiguous=True, nonexistent="shift_forward")
        return local

    written_in, timezone = zones
    days = localized(naive, timezone)
    if written_in == timezone:
        return days
    return days.where(is_day, localized(naive, written_in).dt.tz_convert(timezone))
