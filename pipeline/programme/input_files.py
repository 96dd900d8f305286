"""The input files of a programme: where each lies, and how it is read."""

import difflib
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, Literal

from pydantic import Field, field_validator, model_serializer, model_validator

from pipeline.contracts import LAYER_COLUMNS, REGISTER_COLUMNS, REGISTER_SYNONYMS
from pipeline.databases import is_database, shown
from pipeline.programme.addresses import Address, InputPath
from pipeline.programme.sections import PositiveMetres, Section, TimeZone
from pipeline.units import DIMENSION_OF_UNIT, SPELLINGS, units_of

__all__ = ["Cores", "Layer", "MapLayer", "Source", "table_parts"]

_OF_DATABASES: Final = ("table", "sql", "key")
# what only files have
_OF_FILES: Final = ("layer", "encoding", "delimiter", "header_row")
_IDENTIFIER: Final = r'"(?:[^"]|"")+"|[^".]+'
_TABLE: Final = re.compile(rf"({_IDENTIFIER})(?:\.({_IDENTIFIER}))?")
_PASSWORD: Final = re.compile(r"(?i)password\s*=|postgres(ql)?://")


class Source(Section):
    """Where an input lies: a file, or a table or query of a database."""

    path: InputPath
    table: str | None = None
    sql: str | None = None
    key: str | None = None  # column by which the rows are sorted, and read in parts

    @model_validator(mode="after")
    def _names_one_table_of_a_database(self) -> "Source":
        """Check that a database has a table or a query, and a file neither."""
        given = [name for name in (*_OF_DATABASES, *_OF_FILES, "where") if getattr(self, name, None) is not None]
        if not self.is_database:
            if wrong := [name for name in given if name in _OF_DATABASES]:
                raise ValueError(
                    f"found {wrong[0]}, which is for databases, expected postgresql://HOST/DATABASE as path"
                )
            return self
        if (self.table is None) == (self.sql is None):
            found = "both table and sql" if self.table else "a database without table or sql"
            raise ValueError(f'found {found}, expected one of: table = "schema.table", sql = "SELECT ..."')
        if wrong := [name for name in given if name in _OF_FILES]:
            raise ValueError(f"found {wrong[0]}, which is for files, expected table or sql alone for a database")
        if self.sql is not None and "where" in given:
            raise ValueError("found where together with sql, expected the condition inside sql")
        if self.table is not None:
            table_parts(self.table)
        if self.sql is not None and _PASSWORD.search(self.sql):
            raise ValueError("found a password or an address in sql, expected neither, as sql is shown in the outputs")
        return self

    @model_serializer(mode="wrap")
    def _written(self, write: Callable[["Source"], dict[str, Any]]) -> dict[str, Any]:
        """Leave out what is only for databases where it is not set."""
        return {name: value for name, value in write(self).items() if name not in _OF_DATABASES or value is not None}

    @property
    def is_database(self) -> bool:
        """Whether the path is the address of a database."""
        return is_database(self.path)

    def label(self, name: str) -> str:
        """Return what the input is called in messages and records; ``name`` is that of its section."""
        if not self.is_database:
            return self.path
        return f"{shown(self.path)}, " + (f"table {self.table}" if self.table else f"sql of {self._name_in(name)}")

    def _name_in(self, section: str) -> str:
        return section

    def as_layer(self) -> "Layer":
        """Return the same place as an input of any kind."""
        names = ("path", "layer", "columns", *_OF_DATABASES)
        return Layer(**{name: getattr(self, name) for name in names if hasattr(self, name)})


def table_parts(text: str) -> tuple[str, ...]:
    """Return schema and name of a table as written, without the quotation marks around a name with a dot."""
    found = _TABLE.fullmatch(text.strip())
    if found is None:
        raise ValueError(f'found {text!r}, expected the name of a table, such as "gis.cores"')
    return tuple(part.strip('"').replace('""', '"') if part[0] == '"' else part for part in found.groups() if part)


class Layer(Source):
    """One input: where it lies, and what its columns are called."""

    layer: str | list[str] | None = None  # several, or a pattern, only for a register
    where: str | None = None
    crs: str | None = None
    columns: dict[str, str] = Field(default_factory=dict)
    attribution: str | None = None


class MapLayer(Layer):
    """One map layer beside the register."""

    layer: str | None = None

    @field_validator("columns")
    @classmethod
    def _names_layer_columns(cls, columns: dict[str, str]) -> dict[str, str]:
        _refuse_unknown_keys(columns, LAYER_COLUMNS)
        return columns


class Cores(Layer):
    """A register of cores: a table, a point layer, or several files with the same header."""

    name: str | None = Field(default=None, min_length=1)  # None: taken from the path
    layer: str | list[str] | None = None  # sheets of a workbook: a name, names, or a pattern such as "2026-*"
    x: str | None = None
    y: str | None = None
    units: dict[str, str] = Field(default_factory=dict)
    encoding: str | None = None
    delimiter: str | None = Field(default=None, min_length=1, max_length=1)
    decimal: Literal[".", ","] | None = None
    day_first: bool | None = None
    diameter_is: Literal["hole", "core"] = "hole"
    header_row: int | None = Field(default=None, ge=1)  # None: the first row that holds the mapped names
    position: str | None = None  # one column with both coordinates, in place of x and y
    position_order: Literal["lat lon", "lon lat", "x y", "y x"] | None = None
    dates: Literal["serial", "serial 1904"] | None = None  # bare numbers in date columns count days
    timezone: TimeZone | None = None  # None: the programme's
    position_accuracy_m: PositiveMetres | None = Field(default=None, alias="position_accuracy")

    @field_validator("layer", mode="before")
    @classmethod
    def _names_sheets(cls, layer: object) -> object:
        names = layer if isinstance(layer, list) else [layer]
        if layer is not None and not (names and all(isinstance(name, str) and name for name in names)):
            raise ValueError("expected the name of a sheet or layer, a list of names, or a pattern with *")
        twice = [name for name in names if names.count(name) > 1]
        if twice:
            raise ValueError(f"found {twice[0]!r} twice, expected each name once")
        return layer

    @field_validator("columns")
    @classmethod
    def _names_register_columns(cls, columns: dict[str, str]) -> dict[str, str]:
        named = {_register_name(key): column for key, column in columns.items()}
        if len(named) < len(columns):
            twice = next(name for name in named if [_register_name(key) for key in columns].count(name) > 1)
            raise ValueError(f"found two keys for the column `{_short(twice)}`, expected one")
        _refuse_unknown_keys({_short(name): column for name, column in named.items()}, list(_SHORT_NAMES))
        return named

    @property
    def register_name(self) -> str:
        """What the register is called in the outputs: its name, else the name of its file or folder."""
        if self.is_database:
            return self.name or (table_parts(self.table)[-1] if self.table else "cores")
        path = Path(self.path)
        own = path.stem if not self.is_pattern else path.parent.name
        return self.name or own or "cores"

    @property
    def is_pattern(self) -> bool:
        """Whether the path stands for several files, such as ``2026/*.csv``."""
        if isinstance(self.path, Address):
            return self.path.is_pattern
        return not self.is_database and any(mark in self.path for mark in "*?[")

    def _name_in(self, section: str) -> str:
        return self.name or section

    @field_validator("units")
    @classmethod
    def _names_units(cls, units: dict[str, str]) -> dict[str, str]:
        wanted = {
            column.name: column.unit
            for column in REGISTER_COLUMNS
            if column.unit.lower() in DIMENSION_OF_UNIT and column.unit
        }
        named = {_register_name(key): unit for key, unit in units.items()}
        _refuse_unknown_keys({_short(name): unit for name, unit in named.items()}, [_short(name) for name in wanted])
        for name, unit in named.items():
            dimension = DIMENSION_OF_UNIT[wanted[name].lower()]
            if unit.lower() not in SPELLINGS[dimension]:
                raise ValueError(
                    f"found {unit!r} for {_short(name)}, expected a unit of {dimension}: {units_of(dimension)}"
                )
        return named


_SHORT_NAMES: Final = {column.short: column.name for column in REGISTER_COLUMNS}


def _register_name(key: str) -> str:
    """Return the register column for a key: ``diameter`` and ``diameter_mm`` name the same column."""
    return REGISTER_SYNONYMS.get(key, _SHORT_NAMES.get(key, key))


def _short(name: str) -> str:
    """Return the name of a register column without its unit, as programme files write it."""
    return next((short for short, full in _SHORT_NAMES.items() if full == name), name)


def _refuse_unknown_keys(found: dict[str, str], known: list[str]) -> None:
    """Stop at a key that names no column."""
    for key in found:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            hint = f' Did you mean "{near[0]}"?' if near else ""
            raise ValueError(f"found the key {key!r}, expected one of: {', '.join(known)}.{hint}")
