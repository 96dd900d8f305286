"""The sections of the plan: `[plan]`, `[[crews]]`, `[weather]`, `[costs]` and `[budget]`."""

import datetime as dt
from typing import Annotated, Any, Final, Literal

from pydantic import BeforeValidator, Field, StringConstraints, field_validator, model_validator

from pipeline.databases import is_database
from pipeline.programme.addresses import AS_ADDRESS
from pipeline.programme.input_files import Source
from pipeline.programme.names import did_you_mean, refuse_repeated
from pipeline.programme.ranges import number_within
from pipeline.programme.sections import (
    AuditDay,
    Detour,
    Kilograms,
    KilometresAnHour,
    Metres,
    Minutes,
    MinutesOrNone,
    Price,
    Section,
    WholeDays,
)

__all__ = [
    "WEATHER_COLUMNS",
    "WEEKDAYS",
    "Budget",
    "Costs",
    "Crew",
    "LatenessWeights",
    "NoWork",
    "Planning",
    "StepMinutes",
    "Weather",
]

WEEKDAYS: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
WEATHER_COLUMNS: Final = ("date", "hour", "month", "temperature", "low", "high")
_MIDNIGHT: Final = 24 * 60
_Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
_Path = Annotated[_Name, AS_ADDRESS]


def _clock(written: object) -> object:
    """Return a time of day as minutes since midnight."""
    if str(written).strip() == "24:00":
        return _MIDNIGHT
    try:
        at = written if isinstance(written, dt.time) else dt.time.fromisoformat(str(written).strip())
    except ValueError as error:
        raise ValueError(f'found {written!r}, expected a time of day such as "07:30"') from error
    if at.tzinfo or at.second or at.microsecond:
        raise ValueError(f'found {written!r}, expected hours and minutes of local time such as "07:30"')
    return at.hour * 60 + at.minute


def _weekday_or_day(written: object) -> object:
    if isinstance(written, dt.datetime):
        raise ValueError(f"found {written.isoformat()}, expected a date without a time, such as 2026-12-24")  # noqa: TRY004 - as any other wrong setting
    if isinstance(written, dt.date):
        return written
    name = str(written).strip().capitalize()
    if name in WEEKDAYS:
        return name
    raise ValueError(
        f'found {written!r}, expected a day of the week such as "Saturday", or a date such as 2026-12-24 '
        "without quotation marks"
    )


def _position(written: object) -> object:
    if not (isinstance(written, list) and len(written) == 2):
        raise ValueError(f"found {written!r}, expected longitude and latitude in degrees, such as [-82.19, 44.80]")
    return (number_within(written[0], -180, 180), number_within(written[1], -90, 90))


Clock = Annotated[int, BeforeValidator(_clock)]
DayOff = Annotated[str | dt.date, BeforeValidator(_weekday_or_day)]
Factor = Annotated[float, BeforeValidator(lambda written: number_within(written, 0.1, 100))]
Position = Annotated[tuple[float, float], BeforeValidator(_position)]


class StepMinutes(Section):
    """Minutes of each step at a core; None: learnt from the registers where they suffice, else our default."""

    set_up: MinutesOrNone | None = None
    dry_fit: MinutesOrNone | None = None
    mix: MinutesOrNone | None = None
    pour: Minutes | None = None
    press: Minutes | None = None
    clean: MinutesOrNone | None = None
    survey: Minutes | None = None
    make_safe: Minutes | None = None


class LatenessWeights(Section):
    """Minutes of a crew's work that a day late is worth, by urgency; None: our default in ``config/plan.toml``.

    ``after_a_year``: how many times as much a core weighs that has been overdue for a year. ``road_class``: how many
    times as much on roads of a class.
    """

    hazard: Minutes | None = None
    booked: Minutes | None = None
    overdue: Minutes | None = None
    usual: Minutes | None = None
    after_a_year: Factor | None = None
    road_class: dict[str, Factor] = Field(default_factory=dict)


class NoWork(Section):
    """When no work may be done in some streets: a protected street, an event, a school's term."""

    street: str | None = None
    road_class: str | None = None
    road_authority: str | None = None
    district: str | None = None
    first: AuditDay | None = Field(default=None, alias="from")
    last: AuditDay | None = Field(default=None, alias="to")
    weekdays: list[DayOff] = Field(default_factory=list)
    reason: str = ""

    @model_validator(mode="after")
    def _says_where_and_when(self) -> "NoWork":
        if not self.scope:
            raise ValueError("found none, expected one or more of street, road_class, road_authority and district")
        if self.first is None and self.last is None and not self.weekdays:
            raise ValueError("found no days, expected from, to or weekdays")
        if self.first is not None and self.last is not None and self.last < self.first:
            raise ValueError(f"found to {self.last} for from {self.first}, expected a day after it")
        return self

    @property
    def scope(self) -> dict[str, str]:
        """What cores have to match."""
        named = {name: getattr(self, name) for name in ("street", "road_class", "road_authority", "district")}
        return {name: value for name, value in named.items() if value is not None}


class Planning(Section):
    """How the plan is made; each field is a key of the section."""

    start: AuditDay | None = None  # None: the first working day after the day of the audit
    horizon_days: WholeDays = Field(default="182 day", alias="horizon")  # type: ignore[assignment]
    speed_km_h: KilometresAnHour = Field(default="25 km/h", alias="speed")  # type: ignore[assignment]
    detour: Detour = 1.4
    gap_m: Metres = Field(default="1 m", alias="gap")  # type: ignore[assignment]
    waits: bool = Field(default=True, alias="wait")
    keep: _Path | None = None
    sheets_days: WholeDays = Field(default="14 day", alias="sheets")  # type: ignore[assignment]
    iterations: Annotated[int, BeforeValidator(lambda n: number_within(n, 1, 1_000_000, is_whole=True))] = 200
    seed: Annotated[int, BeforeValidator(lambda n: number_within(n, 0, 2**31 - 1, is_whole=True))] = 1
    minutes: StepMinutes = Field(default_factory=StepMinutes)
    weights: LatenessWeights = Field(default_factory=LatenessWeights)
    yards: dict[str, Position] = Field(default_factory=dict)
    no_work: list[NoWork] = Field(default_factory=list)

    def first_day(self, as_of: dt.date) -> dt.date:
        """Return the first day of the plan: ``start``, but never before the day after the audit."""
        after = as_of + dt.timedelta(days=1)
        return max(self.start or after, after)

    @field_validator("yards")
    @classmethod
    def _names_each_yard_once(cls, named: dict[str, Any]) -> dict[str, Any]:
        return refuse_repeated(named)


class Crew(Section):
    """One crew: its districts, yard, shift, days off, surfaces, and what its truck carries."""

    name: _Name
    districts: list[_Name] = Field(default_factory=list)  # none: every district
    yard: _Name | None = None  # None: the yard of its first district
    shift: tuple[Clock, Clock] = Field(default=("07:00", "15:30"))  # type: ignore[assignment]
    break_min: MinutesOrNone | None = Field(default=None, alias="break")
    days_off: list[DayOff] = Field(default=["Saturday", "Sunday"])
    surfaces: list[_Name] = Field(default_factory=list)  # none: every surface
    carries_kg: Kilograms = Field(default="1000 kg", alias="carries")  # type: ignore[assignment]

    @field_validator("shift", mode="before")
    @classmethod
    def _is_two_times(cls, written: object) -> object:
        if not (isinstance(written, list | tuple) and len(written) == 2):
            raise ValueError(f'found {written!r}, expected start and end, such as ["07:00", "15:30"]')
        return tuple(written)

    @model_validator(mode="after")
    def _ends_after_it_starts(self) -> "Crew":
        start, end = self.shift
        if not start < end <= _MIDNIGHT:
            raise ValueError("found a shift that does not end after it starts, expected both on one day")
        if self.break_min is not None and self.break_min >= end - start:
            raise ValueError(
                f"found a break of {self.break_min:g} min in a shift of {end - start} min, expected a shorter break"
            )
        return self


class Weather(Source):
    """The temperatures: a forecast (date, hour, temperature), a seasonal table (month, temperature), or both.

    ``path``: either table. ``seasonal``: a seasonal table that is used where the forecast of ``path`` ends.
    ``frost_free_min``: how long grout must not freeze; None: only until traffic.
    """

    layer: str | None = None
    seasonal: _Path | None = None  # a file, also where the forecast is in a database
    columns: dict[str, str] = Field(default_factory=dict)
    unit: Literal["degC", "degF"] = "degC"
    day_first: bool | None = None  # None: as in the registers
    decimal: Literal[".", ","] | None = None
    frost_free_min: Minutes | None = Field(default=None, alias="frost_free")

    @field_validator("seasonal")
    @classmethod
    def _is_a_file(cls, seasonal: str | None) -> str | None:
        if seasonal is not None and is_database(seasonal):
            raise ValueError("found the address of a database, expected a file; only path takes a database")
        return seasonal

    @field_validator("columns")
    @classmethod
    def _names_columns_of_weather(cls, columns: dict[str, str]) -> dict[str, str]:
        for key in columns:
            if key not in WEATHER_COLUMNS:
                raise ValueError(
                    f"found the key {key!r}, expected one of: {', '.join(WEATHER_COLUMNS)}."
                    f"{did_you_mean(key, WEATHER_COLUMNS)}"
                )
        return columns


class Costs(Section):
    """What things cost, in the currency of the orders; all optional."""

    visit: Price | None = None
    crew_day: Price | None = None
    plate_per_day: Price | None = None
    permit_overrun_per_day: Price | None = None
    penalty: Price | None = None  # fixed penalty of a core whose permit has run out
    transfer: Price | None = None  # of a pallet (or a pack) from one yard to another


class Budget(Section):
    """What may be spent in each period, and in all."""

    total: Price | None = None
    by_period: dict[str, Price] = Field(default_factory=dict)
