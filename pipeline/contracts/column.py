"""What a column is: its name, kind, unit, label and meaning, who may see it, and what it reveals."""

from collections.abc import Iterable
from typing import Final, Literal, NamedTuple

__all__ = ["AS_WRITTEN", "Column", "Handed", "Kind", "cell_columns", "names_of", "shown_unit"]

# "instant" has a time zone, "day" has none
Kind = Literal["text", "number", "instant", "day", "integer", "boolean", "geometry"]
# whether the road authority is handed a column: never unless a programme names it, by default, or in every pack
Handed = Literal["on request", "by default", "always"]

# what an unreadable cell reveals: it may hold anything, so it counts as no column that could be handed over
AS_WRITTEN: Final = "cells as they were written"
_SHOWN_UNITS: Final = {"degC": "°C", "degF": "°F"}
_SUFFIXES: Final = {"degC": "_c"}


def shown_unit(unit: str) -> str:
    """Return a unit as people write it."""
    return _SHOWN_UNITS.get(unit, unit)


class Column(NamedTuple):
    """One column of a frame or table.

    ``unit``: empty where there is none. ``label``: what people call it. ``meaning``: what it holds, a phrase without a
    full stop. ``handed``: whether the road authority is handed it. ``required``: a register must have it. ``optional``:
    a frame may lack it. ``published_as``: its name in tables, where that is another than in the frames. ``reveals``:
    by their published names, the columns that can be read out of a value; None leaves that to ``made_from`` and to the
    column itself. ``made_from``: the inputs that it is worked out from, by the names a programme knows them under.
    ``cell_of``: the column whose cell, as it was written, it holds. ``digits``: decimal places in tables.
    ``shown_digits``: those on the map. ``never_negative``: a number below zero cannot be. ``values``: where only
    certain values can occur, each with its meaning.
    """

    name: str
    kind: Kind
    unit: str = ""
    label: str = ""
    meaning: str = ""
    handed: Handed = "on request"
    required: bool = False
    optional: bool = False
    published_as: str = ""
    reveals: tuple[str, ...] | None = None
    made_from: tuple[str, ...] | None = None
    cell_of: str = ""
    digits: int = 6
    shown_digits: int = 1
    values: tuple[tuple[str, str], ...] = ()
    never_negative: bool = False

    @property
    def short(self) -> str:
        """The name without its unit, as programme files write it."""
        return self.name.removesuffix(_SUFFIXES.get(self.unit, f"_{self.unit.lower()}")) if self.unit else self.name

    @property
    def published(self) -> str:
        """The name in tables and in what is handed over."""
        return self.published_as or self.name

    @property
    def shown_unit(self) -> str:
        """The unit as people write it."""
        return shown_unit(self.unit)

    @property
    def title(self) -> str:
        """The label with the unit in brackets."""
        return f"{self.label} ({self.shown_unit})" if self.unit else self.label

    @property
    def text_name(self) -> str:
        """Name of the column that holds this one's cells as they were written."""
        return f"{self.name}_text"

    @property
    def problem_name(self) -> str:
        """Name of the column that says why a cell could not be read."""
        return f"{self.name}_problem"

    @property
    def step_name(self) -> str:
        """Name of the column with the step to which this one's numbers were written."""
        return f"{self.short}_step{self.name.removeprefix(self.short)}"


def cell_columns(column: Column) -> tuple[Column, ...]:
    """Return what intake keeps beside a column that it had to read: its cells as written, and why one was not read.

    Beside a number, also the step that it was written to. A text column is taken as it is, and has nothing beside it.
    """
    if column.kind == "text":
        return ()
    kept = (
        Column(
            column.text_name,
            "text",
            label=f"{column.label}, as written",
            meaning=f"the cell that {column.short} was read from",
            cell_of=column.name,
        ),
        Column(
            column.problem_name,
            "text",
            label=f"{column.label}: problem",
            meaning=f"why that cell of {column.short} could not be read; missing where it could",
            reveals=(),
        ),
    )
    if column.kind != "number":
        return kept
    step = Column(
        column.step_name,
        "number",
        column.unit,
        f"{column.label}, rounded to",
        f"step to which {column.short} was written, by its digits and those of its register and crew",
        reveals=(),
    )
    return (*kept, step)


def names_of(columns: Iterable[Column]) -> tuple[str, ...]:
    """Return the published names of columns, in their order."""
    return tuple(column.published for column in columns)
