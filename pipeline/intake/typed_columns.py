"""One column of a register read by its kind, with its unit, and the reason for each cell that cannot be read."""

from dataclasses import dataclass, field
from typing import Final, Literal, NoReturn

import pandas as pd

from pipeline.contracts import Column, is_missing, no_text
from pipeline.errors import InputError
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.cells.measures import header_unit, read_measures
from pipeline.intake.files.tables import RawTable
from pipeline.programme.settings import Cores
from pipeline.wording import counted

__all__ = ["TypedColumn", "UnitFrom", "typed_column"]

UnitFrom = Literal["programme", "header", "units row", "column name", "cells"]
_NOT_SET: Final = "cells"


@dataclass(frozen=True)
class TypedColumn:
    """One column of the contract as it was read.

    ``columns``: N rows each, by name: the column, its ``_text`` and its ``_problem``; a text column has only itself.
    ``unit``: the unit of bare numbers, None where each cell has its own or none is needed. ``unit_from``: what that
    unit was taken from. ``notices``: what the user should know.
    """

    columns: dict[str, pd.Series]
    unit: str | None = None
    unit_from: UnitFrom | None = None
    notices: list[str] = field(default_factory=list)


def typed_column(table: RawTable, column: Column, source: str | None, section: Cores, timezone: str) -> TypedColumn:
    """Return one contract column read by its kind.

    Parameters
    ----------
    table
        What the file holds.
    column
        The column of the contract.
    source
        The file's column that it is read from; None where the file has none.
    section
        Settings of the register.
    timezone
        IANA name of the programme's time zone.

    Raises
    ------
    InputError
        The programme names the column, and its sizes have no unit or its dates could have day or month first.
    """
    text = table.frame[source] if source is not None else no_text(table.frame.index)
    if column.kind == "text":
        # a blank cell is missing, but "NA" may be an id or a street
        return TypedColumn({column.name: text.str.strip().where(lambda cells: cells.ne(""))})
    try:
        read = _dates if column.kind == "instant" else _measures
        return read(table, column, text, source, section, timezone)
    except _UnusableError as error:
        found = f"{table.label}: column {source!r}"
        if column.required or column.name in section.columns:
            raise InputError(f"{found} for `{column.short}` {error.what}. {error.remedy}") from None
        # a column that only happens to have the name does not stop the run
        ignored = typed_column(table, column, None, section, timezone)
        ignored.notices.append(f"{found} {error.what}; it is ignored. {error.remedy}")
        return ignored


class _UnusableError(Exception):
    """A column cannot be used as it is: what was found, and what to do."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what, self.remedy = what, remedy


def _refuse(what: str, remedy: str) -> NoReturn:
    raise _UnusableError(what, remedy)


def _dates(
    table: RawTable, column: Column, text: pd.Series, source: str | None, section: Cores, timezone: str
) -> TypedColumn:
    """Return a column of dates or instants."""
    dates = read_dates(text, timezone, day_first=section.day_first)
    notices = []
    unsettled = dates.problem.eq("day or month first")
    if unsettled.sum() * 2 > (~is_missing(text)).sum():
        _refuse(
            f"has dates such as {text[unsettled].iloc[0]!r}, where day or month may come first",
            "Set cores.day_first = true or false in the programme file.",
        )
    if unsettled.any():
        notices.append(
            f"{table.label}: {counted(int(unsettled.sum()), 'date')} in column {source!r} not read, such as "
            f"{text[unsettled].iloc[0]!r}: day or month may come first. Set cores.day_first = true or false."
        )
    columns = {column.name: dates.instants, column.text_name: text, column.problem_name: dates.problem}
    return TypedColumn(columns, notices=notices)


def _measures(
    table: RawTable,  # noqa: ARG001 - dates need it
    column: Column,
    text: pd.Series,
    source: str | None,
    section: Cores,
    timezone: str,  # noqa: ARG001 - dates need it
) -> TypedColumn:
    """Return a column of measures or counts."""
    own = column.unit if source is not None and source.casefold() == column.name else None
    set_unit = section.units.get(column.name)
    bare = set_unit or own or (header_unit(source, column.unit) if source and column.unit else None)
    read = read_measures(text, column.unit, bare, section.decimal)
    unitless = read.problem.eq("no unit")
    if unitless.any() and unitless.sum() == (~is_missing(text)).sum():
        _refuse(
            f"has bare numbers such as {text[unitless].iloc[0]!r}",
            f'Give their unit: cores.units = {{ {column.short} = "{column.unit}" }} in the programme file.',
        )
    columns = {column.name: read.values, column.text_name: text, column.problem_name: read.problem}
    if source is None or not column.unit:
        return TypedColumn(columns)
    unit_from: UnitFrom = "programme" if set_unit else "column name" if own else "header" if bare else _NOT_SET
    return TypedColumn(columns, bare, unit_from)
