"""The input files of a programme: where each lies, and how it is read."""

import difflib
from pathlib import Path
from typing import Final, Literal

from pydantic import Field, field_validator

from pipeline.contracts import LAYER_COLUMNS, REGISTER_COLUMNS, REGISTER_SYNONYMS
from pipeline.programme.addresses import Address, InputPath
from pipeline.programme.sections import PositiveMetres, Section
from pipeline.units import DIMENSION_OF_UNIT, SPELLINGS, units_of

__all__ = ["Cores", "Layer", "MapLayer"]


class Layer(Section):
    """One input file: where it lies, and what its columns are called."""

    path: InputPath
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
    timezone: str | None = None  # None: the programme's
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
        path = Path(self.path)
        own = path.stem if not self.is_pattern else path.parent.name
        return self.name or own or "cores"

    @property
    def is_pattern(self) -> bool:
        """Whether the path stands for several files, such as ``2026/*.csv``."""
        if isinstance(self.path, Address):
            return self.path.is_pattern
        return any(mark in self.path for mark in "*?[")

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
