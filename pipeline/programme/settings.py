"""The programme file: TOML in, validated and typed settings out."""

import re
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import BeforeValidator, Field, ValidationError, ValidationInfo, field_validator, model_validator

from pipeline.contracts import HANDED_ALWAYS, HANDED_COLUMNS
from pipeline.errors import SettingsError
from pipeline.programme.calendars import bool_or_dates, calendar_of
from pipeline.programme.decisions import Decisions
from pipeline.programme.input_files import Cores, Layer, MapLayer
from pipeline.programme.names import LONGEST_NAME, refuse_repeated
from pipeline.programme.orders import Ordering
from pipeline.programme.outputs import Publish
from pipeline.programme.owners import Owner
from pipeline.programme.plan import Budget, Costs, Crew, Planning, Weather
from pipeline.programme.returns import Returns
from pipeline.programme.sections import AuditDay, Metres, NamesNear, PositiveMetres, Section, Share, TimeZone
from pipeline.programme.setting_errors import sentences
from pipeline.programme.toml_files import read_toml
from pipeline.workdays import Calendar, holiday_days

__all__ = [
    "Cores", "Handover", "Layer", "Map", "MapLayer", "Matching", "Programme", "Settings", "Thresholds", "Where",
    "load_programme",
]  # fmt: skip

# the address becomes part of the page's security policy: only the characters of an address, and braces
_TILES: Final = r"https://[A-Za-z0-9.-]+(:[0-9]+)?/[A-Za-z0-9._~/?=&%{}@+-]*"


class Programme(Section):
    """What is audited, on which date, in which CRS, time zone and language."""

    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    as_of: AuditDay | None = None  # None: today
    crs: str = "auto"
    timezone: TimeZone = "UTC"
    holidays: str | None = None  # None: only Saturdays and Sundays are days off
    # in place of holidays on a weekend; None: by the law of the region, else by the holidays package
    substitute_days: Annotated[bool | list[AuditDay] | None, BeforeValidator(bool_or_dates)] = None
    language: str = "en"

    @field_validator("name")
    @classmethod
    def _is_on_one_line(cls, name: str) -> str:
        # it is the title of every page, and begins lines of the terminal
        if name.splitlines() != [name]:
            raise ValueError("expected a name on one line")
        return name

    @field_validator("language")
    @classmethod
    def _is_a_language(cls, code: str) -> str:
        # the code is part of the path of a file of words
        if re.fullmatch(r"[a-z]{2,3}(-[A-Za-z0-9]+)*", code) is None:
            raise ValueError('expected a language code, such as "en" or "fr-CA"')
        return code

    @field_validator("holidays")
    @classmethod
    def _is_a_calendar(cls, region: str | None) -> str | None:
        if region is not None:
            holiday_days(Calendar(region), (2026, 2026))
        return region

    @model_validator(mode="after")
    def _has_holidays_to_replace(self) -> "Programme":
        if self.substitute_days is not None and self.holidays is None:
            raise ValueError(
                'found substitute_days without holidays, expected the region too, such as holidays = "CA-ON"'
            )
        return self

    @property
    def calendar(self) -> Calendar | None:
        """The public holidays and what is off in place of those on a weekend."""
        return calendar_of(self.holidays, self.substitute_days)


class Matching(Section):
    """How cores are assigned to segments and districts."""

    max_distance_m: PositiveMetres = Field(default="15 m", alias="max_distance")  # type: ignore[assignment]
    # how far is looked where the error of a position asks for it
    max_reach_m: PositiveMetres = Field(default="50 m", alias="max_reach")  # type: ignore[assignment]
    choose: Literal["likeliest", "nearest"] = "likeliest"
    district_gap_m: Metres = Field(default="10 m", alias="district_gap")  # type: ignore[assignment]
    # an error of zero would make every core certain
    accuracy_m: PositiveMetres = Field(default="5 m", alias="accuracy")  # type: ignore[assignment]
    accuracy_by_method: dict[str, PositiveMetres] = Field(default_factory=dict)
    # whether errors that nobody stated are learnt from the register
    learn: bool = True
    name_right: Share = Field(default="90 %")  # type: ignore[assignment]
    names_near: NamesNear = 5
    underground: Share = Field(default="2 %")  # type: ignore[assignment]
    # rows of two registers with one id are one core up to this distance
    same_core_m: PositiveMetres = Field(default="10 m", alias="same_core")  # type: ignore[assignment]
    works_reach_m: PositiveMetres = Field(default="6 m", alias="works_reach")  # type: ignore[assignment]

    @field_validator("accuracy_by_method")
    @classmethod
    def _names_each_method_once(cls, methods: dict[str, float]) -> dict[str, float]:
        return refuse_repeated(methods)


class Where(Section):
    """Where other thresholds apply: to cores that match everything that is named."""

    road_authority: str | None = None
    road_class: str | None = None
    surface: str | None = None
    code: str | None = None
    source: str = ""
    rules: dict[str, dict[str, Any]] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _has_scope_and_thresholds(self) -> "Where":
        if not self.scope:
            raise ValueError("found none, expected one or more of road_authority, road_class and surface")
        if not self.rules and self.code is None:
            raise ValueError("found no thresholds, expected a code or rules")
        return self

    @property
    def scope(self) -> dict[str, str]:
        """What cores have to match, by column of the located cores."""
        named = {name: getattr(self, name) for name in ("road_authority", "road_class", "surface")}
        return {name: value for name, value in named.items() if value is not None}


class Thresholds(Section):
    """The code of practice that thresholds come from, and where other thresholds apply."""

    code: str | None = None
    where: list[Where] = Field(default_factory=list)


class Map(Section):
    """The map page: its background and units."""

    background: str | None = None
    background_credit: str = ""
    # None: those of the orders
    units: Literal["metric", "us"] | None = None

    @field_validator("background")
    @classmethod
    def _is_an_address_of_tiles(cls, address: str | None) -> str | None:
        if address is None:
            return None
        if not (re.fullmatch(_TILES, address) and all(part in address for part in ("{z}", "{x}", "{y}"))):
            raise ValueError(
                "expected an https address of map tiles with {z}, {x} and {y}, such as "
                '"https://host.example/{z}/{x}/{y}.png"'
            )
        return address


class Handover(Section):
    """The handover to the road authority: its columns, whom to contact, and the key it is signed with, if any."""

    columns: list[str] = Field(default=list(HANDED_COLUMNS))
    contact: str | None = None
    works: bool = True  # what the authority planned, protects or had resurfaced is its own data
    work_zones: bool = False
    publisher: str | None = Field(default=None, min_length=1)  # None: the name of the programme
    licence: Literal["https://creativecommons.org/publicdomain/zero/1.0/"] | None = None  # the standard has no other
    sign_with: str | None = None

    @field_validator("columns")
    @classmethod
    def _has_what_a_map_needs(cls, columns: list[str]) -> list[str]:
        twice = sorted({name for name in columns if columns.count(name) > 1})
        if twice:
            raise ValueError(f"found {twice[0]!r} twice, expected each column once")
        # a map of cores cannot be read without these
        return [*(name for name in HANDED_ALWAYS if name not in columns), *columns]


class Settings(Section):
    """A programme file."""

    programme: Programme
    cores: list[Cores] = Field(min_length=1)
    roads: MapLayer
    surfaces: MapLayer | None = None
    districts: MapLayer | None = None
    joints: MapLayer | None = None
    resurfaced: MapLayer | None = None
    planned_works: MapLayer | None = None
    protected: MapLayer | None = None
    thresholds: Thresholds = Field(default_factory=Thresholds)
    orders: Ordering = Field(default_factory=Ordering)
    plan: Planning = Field(default_factory=Planning)
    crews: list[Crew] = Field(default_factory=list)
    weather: Weather | None = None
    costs: Costs = Field(default_factory=Costs)
    budget: Budget = Field(default_factory=Budget)
    decisions: Decisions | None = None
    returns: Returns | None = None
    matching: Matching = Field(default_factory=Matching)
    map: Map = Field(default_factory=Map)
    publish: Publish = Field(default_factory=Publish)
    handover: Handover = Field(default_factory=Handover)
    owners: list[Owner] = Field(default_factory=list)
    catalogue: dict[str, dict[str, Any]] = Field(default_factory=dict)

    @field_validator("cores", mode="before")
    @classmethod
    def _lists_registers(cls, written: object) -> object:
        return written if isinstance(written, list) else [written]

    @field_validator("cores")
    @classmethod
    def _has_registers_of_different_names(cls, registers: list[Cores]) -> list[Cores]:
        names = [register.register_name for register in registers]
        if twice := [name for name in dict.fromkeys(names) if names.count(name) > 1]:
            raise ValueError(f"found two registers named {twice[0]!r}, expected a `name` of its own for each [[cores]]")
        return registers

    @field_validator("crews")
    @classmethod
    def _has_crews_of_different_names(cls, crews: list[Crew]) -> list[Crew]:
        names = [crew.name.casefold() for crew in crews]
        if twice := [name for name in dict.fromkeys(names) if names.count(name) > 1]:
            raise ValueError(f"found two crews named {twice[0]!r}, expected a `name` of its own for each [[crews]]")
        return crews

    @field_validator("publish")
    @classmethod
    def _has_districts_for_its_parts(cls, publish: Publish, info: ValidationInfo) -> Publish:
        if publish.needs_districts and info.data.get("districts", publish) is None:
            raise ValueError(
                f'found {publish.needs_districts} = "by district" without [districts], expected that layer too'
            )
        return publish

    @property
    def day_first(self) -> bool | None:
        """Whether the day comes first in the dates of layers and stock: what the registers agree on."""
        written = {register.day_first for register in self.cores} - {None}
        return written.pop() if len(written) == 1 else None

    @property
    def frost_free_min(self) -> float:
        """How long grout must not freeze, where the programme says so; 0: only until traffic."""
        return 0.0 if self.weather is None else self.weather.frost_free_min or 0.0

    @property
    def diameter_is(self) -> Literal["hole", "core"]:
        """What diameters measure: what the registers agree on, else the hole, to which intake converts them."""
        written = {register.diameter_is for register in self.cores}
        return written.pop() if len(written) == 1 else "hole"


def load_programme(path: Path) -> Settings:
    """Return the settings of a programme file.

    Raises
    ------
    SettingsError
        The file cannot be read, is not TOML, or has a wrong key or value; every wrong one is named.
    """
    written = read_toml(path)
    try:
        return Settings.model_validate(written)
    except ValidationError as error:
        lines = sentences(error, Settings, remedy="Correct it.", written=written)
        raise SettingsError("\n".join(f"{path}: {line}" for line in lines)) from error
