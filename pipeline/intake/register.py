"""The register of cores: every row of it, typed, with the reason for each cell that cannot be read."""

from dataclasses import dataclass, field

import pandas as pd
from pyproj import CRS

from pipeline.contracts import REGISTER_COLUMNS, Column, is_missing, no_text
from pipeline.errors import InputError
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.cells.measures import header_unit, read_measures
from pipeline.intake.crs import Extent
from pipeline.intake.files.tables import RawTable
from pipeline.intake.register_positions import read_positions
from pipeline.programme.settings import Cores
from pipeline.wording import counted

__all__ = ["Register", "find_column", "read_register"]


@dataclass(frozen=True)
class Register:
    """The register after intake.

    ``frame``: N rows in input order: ``row``, the contract's register columns, ``<column>_text`` and
    ``<column>_problem`` for measures and dates, ``x_text``, ``y_text``, ``position_problem``, ``position_repair``,
    ``ragged``, ``same_row`` (equal where rows are equal in every cell), ``is_copy``, ``x`` and ``y`` in the register's
    CRS, ``lon``, ``lat``. ``as_read``: the register's own columns, as text. ``present``: the contract columns that the
    register has. ``units``: the unit of each measure, or "in the cells".
    """

    frame: pd.DataFrame
    as_read: pd.DataFrame
    present: frozenset[str]
    crs: CRS
    label: str
    rows_in_file: int
    units: dict[str, str]
    notices: list[str] = field(default_factory=list)


def read_register(table: RawTable, section: Cores, timezone: str, roads: Extent, roads_crs: CRS) -> Register:
    """Return a raw register as typed columns.

    Parameters
    ----------
    table
        What the file holds.
    section
        Settings of the register.
    timezone
        IANA name of the zone that instants without an offset are in.
    roads, roads_crs
        Extent of the road layer and its CRS: reveals swapped axes and lost signs.

    Raises
    ------
    InputError
        A required column is missing, sizes have no unit, dates could have day or month first, or no core lies near the
        roads.
    """
    found = _columns_found(table, section)
    columns: dict[str, pd.Series] = {"row": pd.Series(table.rows)}
    units: dict[str, str] = {}
    for column in REGISTER_COLUMNS:
        columns |= _typed(table, column, found[column.name], section, timezone, units)

    crs, positions = read_positions(table, section, roads, roads_crs)
    columns |= positions
    columns["ragged"] = table.ragged if table.ragged is not None else no_text(table.frame.index)
    columns |= _copies(table.frame, {name: positions[name] for name in ("x_text", "y_text")})
    return Register(
        frame=pd.DataFrame(columns),
        as_read=table.frame,
        present=frozenset(name for name, source in found.items() if source is not None),
        crs=crs,
        label=table.label,
        rows_in_file=table.rows_in_file,
        units=units,
        notices=table.notices,
    )


def _columns_found(table: RawTable, section: Cores) -> dict[str, str | None]:
    """Return the file's column for each contract column; stop where a required one is missing."""
    found = {column.name: find_column(table, section.columns, column, "cores") for column in REGISTER_COLUMNS}
    for column in REGISTER_COLUMNS:
        if column.required and found[column.name] is None:
            raise InputError(
                f"{table.label}: no column for `{column.short}`; the file has: {', '.join(table.frame.columns)}. "
                f'Set cores.columns.{column.short} = "..." in the programme file.'
            )
    return found


def _copies(as_read: pd.DataFrame, texts: dict[str, pd.Series]) -> dict[str, pd.Series]:
    """Return a number shared by rows that are equal in every cell, and whether a row repeats an earlier one."""
    cells = as_read.assign(**{f"position {name}": text for name, text in texts.items()})
    group = cells.groupby(list(cells.columns), dropna=False, sort=False).ngroup()
    return {"same_row": group, "is_copy": group.duplicated()}


def find_column(table: RawTable, mapping: dict[str, str], column: Column, section: str) -> str | None:
    """Return the file's column for a contract column: the one set, else the one of that name, else None.

    Raises
    ------
    InputError
        The column that is set is not in the file.
    """
    names = list(table.frame.columns)
    by_form = {name.strip().casefold(): name for name in reversed(names)}
    wanted = mapping.get(column.name)
    if wanted is not None:
        if wanted in names:
            return wanted
        near = by_form.get(wanted.strip().casefold())
        if near is not None:
            return near
        raise InputError(
            f"{table.label}: no column {wanted!r} for `{column.short}`; "
            f"the file has: {', '.join(table.fields or names)}. "
            f'Correct {section}.columns.{column.short} = "..." in the programme file.'
        )
    return by_form.get(column.name) or by_form.get(column.short)


def _typed(
    table: RawTable, column: Column, source: str | None, section: Cores, timezone: str, units: dict[str, str]
) -> dict[str, pd.Series]:
    """Return one contract column read by its kind, with the text of each cell and why it could not be read."""
    name = column.name
    text = table.frame[source] if source is not None else no_text(table.frame.index)
    if column.kind == "text":
        # a blank cell is missing, but "NA" may be an id or a street
        return {name: text.str.strip().where(lambda cells: cells.ne(""))}

    def refuse(what: str, remedy: str) -> None:
        """Stop where the programme names the column; ignore one that only happens to have the name."""
        if column.required or name in section.columns:
            raise InputError(f"{table.label}: column {source!r} for `{column.short}` {what}. {remedy}")
        table.notices.append(f"{table.label}: column {source!r} {what}; it is ignored. {remedy}")

    nothing = no_text(table.frame.index)
    filled = (~is_missing(text)).sum()
    if column.kind == "instant":
        dates = read_dates(text, timezone, day_first=section.day_first)
        unsettled = dates.problem.eq("day or month first")
        if unsettled.sum() * 2 > filled:
            example = text[unsettled].iloc[0]
            refuse(
                f"has dates such as {example!r}, where day or month may come first",
                "Set cores.day_first = true or false in the programme file.",
            )
            text, dates = nothing, read_dates(nothing, timezone, day_first=True)
        elif unsettled.any():
            table.notices.append(
                f"{table.label}: {counted(int(unsettled.sum()), 'date')} in column {source!r} not read, such as "
                f"{text[unsettled].iloc[0]!r}: day or month may come first. Set cores.day_first = true or false."
            )
        return {name: dates.instants, column.text_name: text, column.problem_name: dates.problem}
    own = column.unit if source is not None and source.casefold() == name else None
    bare = section.units.get(name) or own or (header_unit(source, column.unit) if source and column.unit else None)
    read = read_measures(text, column.unit, bare, section.decimal)
    unitless = read.problem.eq("no unit")
    if unitless.any() and unitless.sum() == filled:
        refuse(
            f"has bare numbers such as {text[unitless].iloc[0]!r}",
            f'Give their unit: cores.units = {{ {column.short} = "{column.unit}" }} in the programme file.',
        )
        text, read = nothing, read_measures(nothing, column.unit, None, None)
    if source is not None and column.unit:
        units[name] = bare or "in the cells"
    return {name: read.values, column.text_name: text, column.problem_name: read.problem}
