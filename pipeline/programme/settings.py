"""The programme file: TOML in, validated and typed settings out."""

import datetime as dt
import difflib
import tomllib
from pathlib import Path
from typing import Any, Final, Literal
from zoneinfo import available_timezones

from pydantic import BaseModel, Field, ValidationError, field_validator, model_validator
from pydantic_core import ErrorDetails

from pipeline.contracts import HANDED_ALWAYS, HANDED_COLUMNS, LAYER_COLUMNS, REGISTER_COLUMNS, REGISTER_SYNONYMS
from pipeline.errors import SettingsError
from pipeline.programme.orders import Ordering
from pipeline.programme.sections import ErrorMetres, Metres, Section, Share
from pipeline.units import DIMENSION_OF_UNIT, SPELLINGS, units_of
from pipeline.workdays import holiday_days

__all__ = [
    "Cores", "Handover", "Layer", "Map", "Matching", "Programme", "Settings", "Thresholds", "Where", "load_programme",
    "sentences",
]  # fmt: skip

_TILES: Final = r"^https://[A-Za-z0-9.-]+(:[0-9]+)?/[A-Za-z0-9._~/?=&%{}@+-]*$"


class Programme(Section):
    """What is audited, at which date, measured in which CRS."""

    name: str = Field(min_length=1)
    as_of: dt.date | None = None  # None: today
    crs: str = "auto"
    timezone: str = "UTC"
    holidays: str | None = None  # None: Saturdays and Sundays alone are no working days
    language: str = Field(default="en", pattern=r"^[a-z]{2,3}(-[A-Za-z0-9]+)*$")

    @field_validator("timezone")
    @classmethod
    def _is_a_timezone(cls, name: str) -> str:
        if name not in available_timezones():
            raise ValueError('expected an IANA time zone, such as "America/Toronto"')
        return name

    @field_validator("holidays")
    @classmethod
    def _is_a_calendar(cls, region: str | None) -> str | None:
        if region is not None:
            holiday_days(region, (2026, 2026))
        return region


class Layer(Section):
    """One map layer."""

    path: str
    layer: str | None = None
    where: str | None = None
    crs: str | None = None
    columns: dict[str, str] = Field(default_factory=dict)
    attribution: str | None = None


class Cores(Layer):
    """The register of cores, a table or a point layer."""

    x: str | None = None
    y: str | None = None
    units: dict[str, str] = Field(default_factory=dict)
    encoding: str | None = None
    delimiter: str | None = Field(default=None, min_length=1, max_length=1)
    decimal: Literal[".", ","] | None = None
    day_first: bool | None = None
    diameter_is: Literal["hole", "core"] = "hole"

    @field_validator("columns")
    @classmethod
    def _names_register_columns(cls, columns: dict[str, str]) -> dict[str, str]:
        named = {_register_name(key): column for key, column in columns.items()}
        if len(named) < len(columns):
            raise ValueError("two keys name the same column of the register")
        _known_keys({_short(name): column for name, column in named.items()}, list(_SHORT_NAMES))
        return named

    @field_validator("units")
    @classmethod
    def _names_units(cls, units: dict[str, str]) -> dict[str, str]:
        wanted = {
            column.name: column.unit
            for column in REGISTER_COLUMNS
            if column.unit.lower() in DIMENSION_OF_UNIT and column.unit
        }
        named = {_register_name(key): unit for key, unit in units.items()}
        _known_keys({_short(name): unit for name, unit in named.items()}, [_short(name) for name in wanted])
        for name, unit in named.items():
            dimension = DIMENSION_OF_UNIT[wanted[name].lower()]
            if unit.lower() not in SPELLINGS[dimension]:
                raise ValueError(
                    f"found {unit!r} for {_short(name)}, expected a unit of {dimension}: {units_of(dimension)}"
                )
        return named


class Matching(Section):
    """How cores are joined to segments and districts."""

    max_distance_m: Metres = Field(default="15 m", alias="max_distance", gt=0)  # type: ignore[assignment]
    choose: Literal["likeliest", "nearest"] = "likeliest"
    district_gap_m: Metres = Field(default="50 m", alias="district_gap", ge=0)  # type: ignore[assignment]
    accuracy_m: ErrorMetres = Field(default="5 m", alias="accuracy")  # type: ignore[assignment]
    accuracy_by_method: dict[str, ErrorMetres] = Field(default_factory=dict)
    name_right: Share = Field(default="90 %")  # type: ignore[assignment]
    names_near: float = Field(default=5, ge=1)
    underground: Share = Field(default="2 %")  # type: ignore[assignment]
    works_reach_m: Metres = Field(default="6 m", alias="works_reach", gt=0)  # type: ignore[assignment]


class Where(Section):
    """A place where other thresholds hold: all that is named must be so."""

    road_authority: str | None = None
    road_class: str | None = None
    surface: str | None = None
    code: str | None = None
    source: str = "programme file"
    rules: dict[str, dict[str, Any]] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _names_a_place(self) -> "Where":
        if not self.place:
            raise ValueError("expected one or more of road_authority, road_class and surface, to say where")
        if not self.rules and self.code is None:
            raise ValueError("expected a code or rules, to say what holds there")
        return self

    @property
    def place(self) -> dict[str, str]:
        """What must be so, by column of the located cores."""
        named = {name: getattr(self, name) for name in ("road_authority", "road_class", "surface")}
        return {name: value for name, value in named.items() if value is not None}


class Thresholds(Section):
    """Whose code of practice the thresholds come from, and where others hold."""

    code: str | None = None
    where: list[Where] = Field(default_factory=list)


class Map(Section):
    """The map page: what its reader may switch on."""

    # braces and the letters of an address alone: it is also written into the page's policy
    background: str | None = Field(default=None, pattern=_TILES)
    background_credit: str = ""
    units: Literal["metric", "us"] = "metric"

    @field_validator("background")
    @classmethod
    def _says_which_tile(cls, address: str | None) -> str | None:
        if address is not None and not all(part in address for part in ("{z}", "{x}", "{y}")):
            raise ValueError(
                'expected an address with {z}, {x} and {y}, such as "https://host.example/{z}/{x}/{y}.png"'
            )
        return address


class Handover(Section):
    """What the road authority is handed: columns by name, and whom it may ask."""

    columns: list[str] = Field(default=list(HANDED_COLUMNS))
    contact: str | None = None

    @field_validator("columns")
    @classmethod
    def _has_what_a_map_needs(cls, columns: list[str]) -> list[str]:
        twice = sorted({name for name in columns if columns.count(name) > 1})
        if twice:
            raise ValueError(f"{twice[0]} named twice")
        # without these nobody could read a map of cores
        return [*(name for name in HANDED_ALWAYS if name not in columns), *columns]


class Settings(Section):
    """A whole programme file."""

    programme: Programme
    cores: Cores
    roads: Layer
    surfaces: Layer | None = None
    districts: Layer | None = None
    joints: Layer | None = None
    resurfaced: Layer | None = None
    planned_works: Layer | None = None
    thresholds: Thresholds = Field(default_factory=Thresholds)
    orders: Ordering = Field(default_factory=Ordering)
    matching: Matching = Field(default_factory=Matching)
    map: Map = Field(default_factory=Map)
    handover: Handover = Field(default_factory=Handover)
    catalogue: dict[str, dict[str, Any]] = Field(default_factory=dict)

    @field_validator("roads", "surfaces", "districts", "joints", "resurfaced", "planned_works")
    @classmethod
    def _names_layer_columns(cls, layer: Layer | None) -> Layer | None:
        if layer is not None:
            _known_keys(layer.columns, LAYER_COLUMNS)
        return layer


def load_programme(path: Path) -> Settings:
    """Read a programme file.

    Raises
    ------
    SettingsError
        The file cannot be read, is not TOML, or holds a wrong key or value; every wrong one is named.
    """
    try:
        written = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise SettingsError(
            f"{path}: the programme file cannot be read ({error.strerror}). "
            "Give the path of a TOML file; `kerfbook start DIR` writes one to edit."
        ) from error
    except UnicodeDecodeError as error:
        raise SettingsError(
            f"{path}: not UTF-8 text (byte {error.start}). Save the programme file as UTF-8."
        ) from error
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(f"{path}: not valid TOML: {error}. Put text in quotation marks.") from error
    try:
        return Settings.model_validate(written)
    except ValidationError as error:
        raise SettingsError("\n".join(f"{path}: {line}" for line in sentences(error, Settings))) from error


def sentences(error: ValidationError, model: type[BaseModel]) -> list[str]:
    """Return one sentence for each wrong key or value: the key, what was found, what was expected."""
    return [_sentence(details, model) for details in error.errors(include_url=False)]


def _sentence(details: ErrorDetails, model: type[BaseModel]) -> str:
    key = ".".join(str(part) for part in details["loc"])
    found = details["input"]
    if details["type"] == "missing":
        return f"{key}: missing. Add it."
    if details["type"] == "extra_forbidden":
        names = _known_names(model, details["loc"][:-1])
        near = difflib.get_close_matches(str(details["loc"][-1]), names, n=1)
        hint = f' Did you mean "{near[0]}"?' if near else ""
        return f"{key}: unknown key.{hint} Known here: {', '.join(names)}."
    said = details["msg"]
    for opening in ("Value error, ", "Input should be ", "String should "):
        said = said.removeprefix(opening)
    if said.startswith("found ") or isinstance(found, dict):
        return f"{key}: {said}."
    expected = said if said.startswith("expected") or details["type"] == "value_error" else f"expected {said}"
    return f"{key}: found {found!r}, {expected}."


def _known_names(model: type[BaseModel], place: tuple[int | str, ...]) -> list[str]:
    for part in place:
        field = model.model_fields.get(str(part))
        kinds = () if field is None else (field.annotation, *getattr(field.annotation, "__args__", ()))
        inner = [kind for kind in kinds if isinstance(kind, type) and issubclass(kind, BaseModel)]
        if not inner:
            return []
        model = inner[0]
    return [field.alias or name for name, field in model.model_fields.items()]


_SHORT_NAMES: Final = {column.short: column.name for column in REGISTER_COLUMNS}


def _register_name(key: str) -> str:
    """Both ``diameter`` and ``diameter_mm`` name the same column."""
    return REGISTER_SYNONYMS.get(key, _SHORT_NAMES.get(key, key))


def _short(name: str) -> str:
    return next((short for short, full in _SHORT_NAMES.items() if full == name), name)


def _known_keys(found: dict[str, str], known: list[str]) -> None:
    for key in found:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            hint = f' Did you mean "{near[0]}"?' if near else ""
            raise ValueError(f"found the key {key!r}, which names no column.{hint} Known: {', '.join(known)}")
