"""Building blocks of the sections of a programme file: their base class, and quantities within what is possible."""

import datetime as dt
from functools import partial
from typing import Annotated, Final
from zoneinfo import available_timezones

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict

from pipeline.programme.addresses import InputPath, as_address
from pipeline.programme.ranges import Range, day_within, number_within

__all__ = [
    "AuditDay", "Count", "Days", "Detour", "FilePaths", "Kilograms", "KilometresAnHour", "Metres", "Minutes",
    "MinutesOrNone", "NamesNear", "Packs", "PositiveDays", "PositiveMetres", "Price", "Section", "Share",
    "TimeZone", "Waste", "WholeDays",
]  # fmt: skip


# 95 % becomes 0.95, not what a division leaves of it
_DECIMALS: Final = 12


def _quantity(within: Range) -> BeforeValidator:
    """Return the validator that reads a quantity written with a unit, within a range."""
    return BeforeValidator(lambda written: round(within.read(written), _DECIMALS))


def _files(written: object) -> object:
    """Return the paths of files, of which one may be written alone."""
    paths = written if isinstance(written, list) else [written]
    if not all(isinstance(path, str) and path for path in paths):
        raise ValueError("expected the path of a file, or a list of paths")
    if twice := [str(path) for path in paths if paths.count(path) > 1]:
        raise ValueError(f"found {str(as_address(twice[0]))!r} twice, expected each file once")
    return paths


def _timezone(name: str) -> str:
    """Return the name of a time zone that is known."""
    if name not in available_timezones():
        raise ValueError('expected an IANA time zone, such as "America/Toronto"')
    return name


def _number(least: float, most: float, *, is_whole: bool = False) -> BeforeValidator:
    """Return the validator that reads a bare number between two ends, both included."""
    return BeforeValidator(partial(number_within, least=least, most=most, is_whole=is_whole))


# distances around a core; a large one makes no sense, but can be meant where positions are rounded or roads are sparse
Metres = Annotated[float, _quantity(Range("m", least="0 m", most="100 km"))]
PositiveMetres = Annotated[float, _quantity(Range("m", above="0 m", most="100 km"))]
Share = Annotated[float, _quantity(Range("%", above="0 %", below="100 %"))]
Waste = Annotated[float, _quantity(Range("%", least="0 %", most="50 %"))]
Days = Annotated[float, _quantity(Range("day", least="0 day", most="730 day"))]
PositiveDays = Annotated[float, _quantity(Range("day", above="0 day", most="3650 day"))]
WholeDays = Annotated[float, _quantity(Range("day", least="1 day", most="3650 day"))]
Minutes = Annotated[float, _quantity(Range("min", above="0 min", most="24 h"))]
MinutesOrNone = Annotated[float, _quantity(Range("min", least="0 min", most="24 h"))]
Kilograms = Annotated[float, _quantity(Range("kg", above="0 kg", most="50000 kg"))]
KilometresAnHour = Annotated[float, _quantity(Range("km/h", above="0 km/h", most="150 km/h"))]
Detour = Annotated[float, _number(1, 10)]
NamesNear = Annotated[float, _number(1, 1000)]
Count = Annotated[int, _number(1, 1_000_000_000, is_whole=True)]
Packs = Annotated[int, _number(1, 1_000_000, is_whole=True)]
Price = Annotated[float, _number(0, 1_000_000)]
FilePaths = Annotated[list[InputPath], BeforeValidator(_files)]
TimeZone = Annotated[str, AfterValidator(_timezone)]
AuditDay = Annotated[dt.date, BeforeValidator(day_within)]
_FROZEN: Final = ConfigDict(extra="forbid", frozen=True, validate_default=True)


class Section(BaseModel):
    """A table of a programme file: unknown keys are refused, and nothing changes afterwards."""

    model_config = _FROZEN
