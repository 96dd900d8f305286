"""The tables of temperatures: a forecast by the hour or the day, and a seasonal table by the month."""

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import Column, Temperatures, start_of_day
from pipeline.errors import InputError
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.cells.header_units import header_unit
from pipeline.intake.cells.numbers import read_numbers
from pipeline.intake.files.layers import read_raw
from pipeline.intake.files.tables import RawTable
from pipeline.intake.register import find_column
from pipeline.programme.plan import WEATHER_COLUMNS, Weather
from pipeline.programme.settings import Layer
from pipeline.units import SPELLINGS, convert
from pipeline.wording import counted

__all__ = ["WeatherTable", "read_weather"]

# what headers call each column, in lower case; a unit in brackets after it is read
_WORDS: Final = {
    "date": ("date", "day", "datetime", "date and time", "date/time", "valid", "valid at"),
    "hour": ("hour", "time", "time of day", "clock", "hh:mm", "hour of day", "local time"),
    "month": ("month", "month of year"),
    "temperature": ("temperature", "temp", "air temperature", "air temp", "air", "mean", "average", "mean temperature"),
    "low": ("low", "min", "minimum", "lowest", "minimum temperature", "min temp", "daily minimum"),
    "high": ("high", "max", "maximum", "highest", "maximum temperature", "max temp", "daily maximum"),
}  # fmt: skip
_MONTHS: Final = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip
_SWAPPED: Final = "day or month first"
# colder or hotter than any air measured: a slip of the pen
_COLDEST_C, _HOTTEST_C = -90.0, 60.0


@dataclass(frozen=True)
class WeatherTable:
    """One table of temperatures after intake: what it gives, and what was read of it."""

    temperatures: Temperatures
    label: str
    rows_in_file: int
    rows: int
    notices: list[str] = field(default_factory=list)
    sha256: str = ""


def read_weather(
    weather: Weather, folder: Path, timezone: str, *, day_first: bool | None
) -> tuple[Temperatures, list[WeatherTable]]:
    """Return the temperatures of a programme, and the tables that they were read from.

    Parameters
    ----------
    weather
        Path of the tables, what their columns are called, and how their cells are written.
    folder
        Folder of the programme file, which paths are relative to.
    timezone
        Zone of the programme, which times without an offset are in.
    day_first
        Whether 03/04/2026 is 3 April in the registers, used where ``weather`` does not say.

    Raises
    ------
    InputError
        A table cannot be read, lacks a column, or holds no temperature that can be read; or the table for the season is
        not one.
    """
    by_day = weather.day_first if weather.day_first is not None else day_first
    tables = [_read(weather, weather.as_layer(), "weather.path", folder, timezone, day_first=by_day)]
    if weather.seasonal is not None:
        tables.append(
            _read(weather, Layer(path=weather.seasonal), "weather.seasonal", folder, timezone, day_first=by_day)
        )
        first, season = (table.temperatures for table in tables)
        if season.months.empty or not first.months.empty:
            wrong, wanted, key = (
                (tables[1], "a seasonal table", "weather.seasonal")
                if season.months.empty
                else (tables[0], "a forecast", "weather.path")
            )
            found = "dates" if season.months.empty else "months"
            raise InputError(
                f"{wrong.label}: found {found}, expected {wanted}, since {key} names it. "
                "A seasonal table alone is named by weather.path; correct the keys in the programme file."
            )
        return first._replace(months=season.months), tables
    return tables[0].temperatures, tables


def _read(
    weather: Weather, source: Layer, key: str, folder: Path, timezone: str, *, day_first: bool | None
) -> WeatherTable:
    """Return one table of temperatures."""
    try:
        raw = read_raw(source, folder, "weather", None)
    except InputError as error:
        raise InputError(str(error).replace("weather.path", key)) from error
    sources = _columns_found(raw, weather)
    filled = raw.frame.apply(lambda column: column.str.strip().ne("") & column.notna()).any(axis="columns")
    text = pd.DataFrame({name: raw.frame[source].str.strip() for name, source in sources.items()})[filled]
    text = text.where(text.ne(""))
    is_season = "month" in sources
    when = _months(text["month"]) if is_season else _times(raw, text, timezone, day_first=day_first)
    is_hourly = not is_season and ("hour" in sources or bool(when.dropna().ne(when.dropna().dt.normalize()).any()))
    sources = _without_spare(sources, is_hourly=is_hourly)
    text = text[list(sources)]
    air = pd.DataFrame(
        {
            name: _celsius(text[name], sources[name], weather)
            for name in ("temperature", "low", "high")
            if name in sources
        },
        index=text.index,
    )
    if "low" in air and "high" in air:
        air = air.mask(air["low"].gt(air["high"]))
    is_read = when.notna() & air.notna().all(axis="columns")
    if not is_read.any():
        raise InputError(
            f"{raw.label}: found no row whose {' and '.join(sources)} can all be read, expected a table of "
            f"temperatures. The first row holds {_first(text)}. Correct the file, or set weather.columns."
        )
    notices = [*raw.notices, *_set_aside(raw, text, ~is_read)]
    temperatures, repeated = _temperatures(when[is_read], air[is_read], is_season=is_season, is_hourly=is_hourly)
    if repeated:
        notices.append(
            f"{raw.label}: {counted(repeated, 'time')} that {'occurs' if repeated == 1 else 'occur'} more than once; "
            "the lowest temperature is used."
        )
    return WeatherTable(temperatures, raw.label, raw.rows_in_file, int(is_read.sum()), notices, raw.sha256)


def _columns_found(raw: RawTable, weather: Weather) -> dict[str, str]:
    """Return the file's column for each that is used; stop where those that are there make no table."""
    bare = {_bare(name): name for name in reversed(raw.frame.columns)}
    found: dict[str, str] = {}
    for name in WEATHER_COLUMNS:
        # of two tables, a key may be for the other
        is_for_other = weather.seasonal is not None and weather.columns.get(name) not in set(raw.frame.columns)
        source = find_column(raw, {} if is_for_other else weather.columns, Column(name, "text"), "weather")
        source = source or next((bare[word] for word in _WORDS[name] if word in bare), None)
        if source is not None and source not in found.values():
            found[name] = source
    if "date" not in found and "month" not in found and "hour" in found:
        # a column "time" alone holds the day too
        found["date"] = found.pop("hour")
    has_ends = "low" in found and "high" in found
    if ("date" not in found and "month" not in found) or not ("temperature" in found or has_ends):
        raise InputError(
            f"{raw.label}: found the columns {raw.listed_columns.rstrip('.')}, expected date or month, and temperature "
            'or both low and high. Set weather.columns.temperature = "..." and the like in the programme file.'
        )
    if "date" in found:
        found.pop("month", None)
    else:
        found.pop("hour", None)
    return found


def _without_spare(sources: dict[str, str], *, is_hourly: bool) -> dict[str, str]:
    """Return the columns without those that are not used: an hour has its temperature, a day its low and high."""
    if "temperature" not in sources:
        return sources
    is_ends_used = not is_hourly and "low" in sources and "high" in sources
    spare = ("temperature",) if is_ends_used else ("low", "high")
    return {name: source for name, source in sources.items() if name not in spare}


def _bare(header: str) -> str:
    """Return a header in lower case without its unit."""
    plain = " ".join(header.casefold().replace("_", " ").split())
    return re.sub(r"\s*(?:[(\[].*[)\]]|[,/]?\s*(?:°|deg\.?)\s*[cf]?|\s[cf])$", "", plain)


def _celsius(text: pd.Series, header: str, weather: Weather) -> pd.Series:
    """Return temperatures in degrees Celsius: in the unit of the cell, else of the header, else of the programme."""
    parts = text.str.replace("\u2212", "-").str.extract(r"^(?P<number>[+-]?[0-9.,]+)\s*(?P<unit>[°A-Za-z .]*)$")
    stated = header_unit(header, "degC")
    usual = (stated.unit if stated else None) or weather.unit
    unit = parts["unit"].str.strip().str.casefold().replace("", None)
    unit = unit.where(unit.notna() | parts["number"].isna(), usual.casefold())
    number = read_numbers(parts["number"], weather.decimal, lone_comma=True)
    air = pd.Series(np.nan, text.index)
    for spelling in unit.dropna().unique():
        if spelling in SPELLINGS["temperature"]:
            mine = unit.eq(spelling)
            air[mine] = convert(number[mine].to_numpy(), spelling, "degC")
    return air.where(air.between(_COLDEST_C, _HOTTEST_C))


def _months(text: pd.Series) -> pd.Series:
    """Return months as numbers from 1; missing where a cell is none."""
    words = {
        name[:length]: number for number, name in enumerate(_MONTHS, start=1) for length in range(3, len(name) + 1)
    }
    numbers = pd.to_numeric(text, errors="coerce")
    named = text.str.casefold().str.rstrip(".").map(words)
    months: pd.Series = numbers.where(numbers.isin(range(1, 13))).fillna(named)
    return months


def _times(raw: RawTable, text: pd.DataFrame, timezone: str, *, day_first: bool | None) -> pd.Series:
    """Return instants of local time; a cell that could be two days stops the run."""
    dates = read_dates(text["date"], timezone, day_first=day_first)
    swapped = dates.problem.eq(_SWAPPED)
    if swapped.any():
        raise InputError(
            f"{raw.label}: found {text['date'][swapped].iloc[0]!r} for `date`, expected a date whose day and month "
            "cannot be swapped. Set weather.day_first, or write it as 2026-10-14."
        )
    local: pd.Series = dates.instants.dt.tz_localize(None)
    # a day without a midnight begins at 1:00
    if "hour" in text or dates.instants.dropna().eq(start_of_day(dates.instants.dropna())).all():
        local = local.dt.normalize()
    if "hour" not in text:
        return local
    parts = text["hour"].str.extract(
        r"^(?P<hour>[0-9]{1,2})(?:[:.h](?P<minute>[0-9]{2})?)?(?::[0-9]{2})?\s*(?P<half>[AaPp])?"
    )
    hour, minute = (pd.to_numeric(parts[name]) for name in ("hour", "minute"))
    half = parts["half"].str.casefold()
    hour = hour.mask(half.eq("p") & hour.lt(12), hour + 12).mask(half.eq("a") & hour.eq(12), 0)
    clock = (hour * 60 + minute.fillna(0)).where(hour.le(24) & minute.fillna(0).lt(60))
    at: pd.Series = local + pd.to_timedelta(clock, unit="min")
    return at


def _temperatures(when: pd.Series, air: pd.DataFrame, *, is_season: bool, is_hourly: bool) -> tuple[Temperatures, int]:
    """Return the temperatures of one table, and how many times occur more than once."""
    ends = air if "low" in air else pd.DataFrame({"low": air["temperature"], "high": air["temperature"]})
    by_day = ends.set_axis(["low_c", "high_c"], axis="columns")
    none = pd.DataFrame({"low_c": [], "high_c": []}, dtype=float)
    hours = pd.DataFrame({"at": pd.to_datetime(pd.Series([], dtype="datetime64[us]")), "air_c": []})
    days = none.assign(day=pd.Series([], dtype="datetime64[us]"))[["day", "low_c", "high_c"]]
    months = none.assign(month=pd.Series([], dtype="int64"))[["month", "low_c", "high_c"]]
    repeated = int(when[when.duplicated()].nunique())
    if is_season:
        months = by_day.groupby(when.astype("int64").rename("month")).min().reset_index()
    elif is_hourly:
        hours = ends.mean(axis="columns").rename("air_c").groupby(when.rename("at")).min().reset_index()
    else:
        days = by_day.groupby(when.rename("day")).min().reset_index()
    return Temperatures(hours, days, months), repeated


def _first(text: pd.DataFrame) -> str:
    cells = text.iloc[0] if len(text) else pd.Series(dtype="str")
    return ", ".join(f"{'an empty cell' if pd.isna(cell) else repr(cell)} for `{name}`" for name, cell in cells.items())


def _set_aside(raw: RawTable, text: pd.DataFrame, wrong: pd.Series) -> list[str]:
    """Return what to report of rows that cannot be read."""
    if not wrong.any():
        return []
    first = text[wrong].iloc[:1]
    place = int(raw.rows[int(first.index[0])]) if raw.places is None else int(raw.places[int(first.index[0])])
    words = f"{counted(int(wrong.sum()), 'row')} set aside; the first is row {place}, with {_first(first)}."
    return [f"{raw.label}: {words} Correct it, or delete it."]
