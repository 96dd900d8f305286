"""The columns of a register read by their kind, with units, and the reason for each cell that cannot be read."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from pipeline.contracts import REGISTER_COLUMNS, Column, is_missing, no_text
from pipeline.errors import InputError
from pipeline.intake.cells.date_order import DateOrder, count_orders, total_order
from pipeline.intake.cells.measures import Reading, read_measures
from pipeline.intake.cells.written_digits import Written
from pipeline.intake.column_units import UnitFrom, UnusableColumnError, column_unit, missing_unit
from pipeline.intake.date_columns import DateEvidence, date_column
from pipeline.intake.files.tables import RawTable
from pipeline.programme.settings import Cores
from pipeline.wording import counted

__all__ = ["TypedColumn", "date_order", "typed_column", "typed_columns"]


@dataclass(frozen=True)
class TypedColumn:
    """One column of the contract as it was read.

    ``columns``: N rows each, by name: the column, its ``_text`` and its ``_problem``; a text column has only itself.
    ``unit``: the unit of bare numbers, None where each cell has its own or none is needed. ``unit_from``: what that
    unit was taken from; None without a unit or a column. ``notices``: what the user should know. ``evidence``: of a
    column of dates, how its order of day and month was settled. ``written``: of a column of numbers, as it was written.
    """

    columns: dict[str, pd.Series]
    unit: str | None = None
    unit_from: UnitFrom | None = None
    notices: list[str] = field(default_factory=list)
    evidence: DateEvidence | None = None
    written: Written | None = None


def typed_columns(
    table: RawTable, found: Mapping[str, str | None], section: Cores, timezone: str
) -> dict[str, TypedColumn]:
    """Return every register column read by its kind.

    Parameters
    ----------
    table
        What the file holds.
    found
        The file's column for each column of the contract, None where it has none.
    section, timezone
        As for :func:`typed_column`.

    Raises
    ------
    InputError
        As for :func:`typed_column`.
    """
    # one column may not show its order where another of the same register does
    order = date_order(table, found)
    read, faults = {}, []
    for column in REGISTER_COLUMNS:
        try:
            read[column.name] = typed_column(table, column, found[column.name], section, timezone, order)
        except InputError as error:
            faults.append(str(error))
    if faults:
        # every column that cannot be used, so that a sheet can be mended in one go
        raise InputError("\n".join(faults))
    return read


def date_order(table: RawTable, found: Mapping[str, str | None]) -> DateOrder:
    """Return what all columns of dates of a register show about the order of day and month."""
    sources = [found[column.name] for column in REGISTER_COLUMNS if column.kind == "instant"]
    return total_order(count_orders(table.frame[source]) for source in sources if source is not None)


def typed_column(
    table: RawTable,
    column: Column,
    source: str | None,
    section: Cores,
    timezone: str,
    order: DateOrder | None = None,
) -> TypedColumn:
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
    order
        What all dates of the register show about the order of day and month; None: only those of this column count.

    Raises
    ------
    InputError
        The programme names the column, and its unit is missing or contradicts the header, or its dates could have day
        or month first, contradict ``day_first`` or are the serial numbers of a spreadsheet.
    """
    text = table.frame[source] if source is not None else no_text(table.frame.index)
    if column.kind == "text":
        # a blank cell is missing, but "NA" may be an id or a street
        return TypedColumn({column.name: text.str.strip().where(lambda cells: cells.ne(""))})
    if source is None:
        nothing: pd.Series = pd.Series(np.nan, text.index)
        if column.kind == "instant":
            nothing = pd.Series(pd.DatetimeIndex([pd.NaT] * len(text), dtype=f"datetime64[us, {timezone}]"), text.index)
        return TypedColumn({column.name: nothing, column.text_name: text, column.problem_name: no_text(text.index)})
    label = f"{table.label}: column {source!r}"
    try:
        if column.kind == "instant":
            dates, evidence, notices = date_column(table, text, source, section, timezone, order)
            columns = {column.name: dates.instants, column.text_name: text, column.problem_name: dates.problem}
            return TypedColumn(columns, notices=[f"{label} {notice}" for notice in notices], evidence=evidence)
        return _measures(table, column, text, source, section)
    except UnusableColumnError as error:
        if column.required or column.name in {*section.columns, *section.units}:
            raise InputError(f"{label} for `{column.short}` {error.what}. {error.remedy}") from None
        # a column that only happens to have the name does not stop the run
        ignored = typed_column(table, column, None, section, timezone)
        ignored.notices.append(f"{label} {error.what}; it is ignored. {error.remedy}")
        return ignored


def _measures(table: RawTable, column: Column, text: pd.Series, source: str, section: Cores) -> TypedColumn:
    """Return a column of measures or counts."""
    if not column.unit:
        read = _possible(read_measures(text, column.unit, None, section.decimal), column)
        return _of_reading(column, text, read)
    key = f"cores.units.{column.short}"
    unit = column_unit(column, source, table.header_units.get(source), section.units.get(column.name), key)
    read = _possible(read_measures(text, column.unit, unit.unit, section.decimal), column)
    label = f"{table.label}: column {source!r}"
    notices = [f"{label} {unit.notice}"] if unit.notice else []
    most = (~is_missing(text)).sum() / 2
    unitless, which = read.problem.eq("no unit"), read.problem.eq("which gallon")
    unsettled = read.problem.eq("thousands or decimals")
    if unitless.sum() > most:
        raise missing_unit(column, unit, text[unitless].iloc[0], key)
    if which.sum() > most:
        raise UnusableColumnError(
            f"has cells such as {text[which].iloc[0]!r}, and a gallon may be a US or an imperial gallon",
            f'Set {key} to "us gal" or "imp gal".',
        )
    if unsettled.sum() > most:
        notices.append(
            f"{label} has {counted(int(unsettled.sum()), 'number')} not read, such as {text[unsettled].iloc[0]!r}: "
            'the comma may mean thousands or decimals. Set cores.decimal = "." or ",".'
        )
    return replace(_of_reading(column, text, read), unit=unit.unit, unit_from=unit.unit_from, notices=notices)


def _of_reading(column: Column, text: pd.Series, read: Reading) -> TypedColumn:
    columns = {column.name: read.values, column.text_name: text, column.problem_name: read.problem}
    return TypedColumn(columns, written=read.written)


def _possible(read: Reading, column: Column) -> Reading:
    """Return a column without the numbers below zero that what it measures cannot have."""
    if not column.never_negative:
        return read
    below = read.values.lt(0)
    return read._replace(values=read.values.mask(below), problem=read.problem.mask(below, "negative"))
