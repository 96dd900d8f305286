"""The register of cores: every row of it, typed, with the reason for each cell that cannot be read."""

from dataclasses import dataclass, field, replace

import pandas as pd
from pyproj import CRS

from pipeline.contracts import REGISTER_COLUMNS, Column, no_text, sharing_blanks
from pipeline.errors import InputError
from pipeline.intake.cells.written_digits import Written
from pipeline.intake.corrections import NO_CORRECTIONS, with_corrections
from pipeline.intake.crs import Extent
from pipeline.intake.date_columns import DateEvidence
from pipeline.intake.decisions import NO_ENTRIES
from pipeline.intake.files.tables import RawTable
from pipeline.intake.register_positions import read_positions
from pipeline.intake.typed_columns import typed_columns
from pipeline.programme.settings import Cores

__all__ = ["Register", "find_column", "read_register"]


@dataclass(frozen=True)
class Register:
    """One file of a register after intake.

    ``frame``: N rows in input order: ``row``, ``register_row`` (the row or line as a person finds it in the file), the
    contract's register columns, ``<column>_text`` and ``<column>_problem`` for measures and dates, ``x_text``,
    ``y_text``, ``position_problem``, ``position_repair``, ``ragged``, ``x`` and ``y`` in the register's CRS, ``lon``,
    ``lat``. ``as_read``: the register's own columns, as text. ``present``: the contract columns that the register has.
    ``units``: the unit of each measure, or "in the cells". ``set_aside``: the rows that hold no core. ``name``: what
    the programme calls the register; ``label``: the file; ``sha256``: its checksum as it was read, and
    ``part_sums``: those of its parts by name, where it is a folder of them. ``sources``: the file's column for each
    contract column, None where it has none; ``position_headers``: those of the position, none for the points of a
    layer. ``units_from``: what the unit of each measure was taken from. ``evidence``: how the dates of each column were
    understood. ``written``: the numbers of each measured column as they were written. ``path``, ``sheet``: the file as
    the programme names it, and its sheet or layer where there is one to name. ``header_place``: the row or line that
    the names are in, 0 for a map layer. ``corrections``: the cells that decisions correct; ``as_read`` has them as they
    were.
    """

    name: str
    frame: pd.DataFrame
    as_read: pd.DataFrame
    present: frozenset[str]
    crs: CRS
    label: str
    rows_in_file: int
    units: dict[str, str]
    set_aside: pd.DataFrame
    notices: list[str] = field(default_factory=list)
    sources: dict[str, str | None] = field(default_factory=dict)
    position_headers: tuple[str, ...] = ()
    units_from: dict[str, str] = field(default_factory=dict)
    evidence: dict[str, DateEvidence] = field(default_factory=dict)
    written: dict[str, Written] = field(default_factory=dict)
    sha256: str = ""
    part_sums: dict[str, str] = field(default_factory=dict)
    path: str = ""
    sheet: str = ""
    header_place: int = 0
    corrections: pd.DataFrame = field(default_factory=NO_CORRECTIONS.copy)


def read_register(
    table: RawTable,
    section: Cores,
    timezone: str,
    roads: Extent,
    roads_crs: CRS,
    entries: pd.DataFrame = NO_ENTRIES.frame,
    note: str = "Check roads.path.",
) -> Register:
    """Return one file of a register as typed columns.

    Parameters
    ----------
    table
        What the file holds.
    section
        Settings of the register.
    timezone
        IANA name of the programme's zone.
    roads, roads_crs
        Extent of the road layer and its CRS: reveals swapped axes and lost signs.
    entries
        Decisions: those that correct a cell are applied before it is read.
    note
        What to look at in the roads where no core lies near them.

    Raises
    ------
    InputError
        A required column is missing, sizes have no unit, dates could have day or month first, or no core lies near the
        roads.
    """
    found, faults = _columns_found(table, section)
    if not faults:
        corrected, log = with_corrections(table, found, section, entries)
        if log["standing"].eq("holds").any():
            corrected.notices = [*table.notices]
            try:
                register = _typed(corrected, found, [], section, timezone, roads, roads_crs, note)
            except InputError:
                # a correction never stops the run: where the register can be read without it, it does not hold
                log = log.assign(standing=log["standing"].replace("holds", "does not hold"))
            else:
                return replace(register, as_read=table.frame, corrections=log)
        return replace(_typed(table, found, [], section, timezone, roads, roads_crs, note), corrections=log)
    return _typed(table, found, faults, section, timezone, roads, roads_crs, note)


def _typed(
    table: RawTable,
    found: dict[str, str | None],
    faults: list[str],
    section: Cores,
    timezone: str,
    roads: Extent,
    roads_crs: CRS,
    note: str,
) -> Register:
    """Return a table as a register; stop with everything that is wrong with it, ``faults`` included."""
    places = table.rows if table.places is None else table.places
    columns: dict[str, pd.Series] = {"row": pd.Series(table.rows), "register_row": pd.Series(places)}
    try:
        read = typed_columns(table, found, section, timezone)
    except InputError as error:
        faults.append(str(error))
    try:
        positions = read_positions(table, section, roads, roads_crs, note=note)
    except InputError as error:
        faults.append(str(error))
    if faults:
        # everything that stops the run, so that a sheet can be mended in one go
        raise InputError("\n".join(faults))
    for typed in read.values():
        columns |= typed.columns
        table.notices.extend(typed.notices)

    columns |= positions.columns
    columns["ragged"] = table.ragged if table.ragged is not None else no_text(table.frame.index)
    return Register(
        name=section.register_name,
        frame=sharing_blanks(pd.DataFrame(columns)),
        as_read=table.frame,
        present=frozenset(name for name, source in found.items() if source is not None),
        crs=positions.crs,
        label=table.label,
        rows_in_file=table.rows_in_file,
        units={name: typed.unit or "in the cells" for name, typed in read.items() if typed.unit_from is not None},
        set_aside=table.set_aside,
        notices=table.notices,
        sources=found,
        position_headers=positions.headers,
        units_from={name: typed.unit_from for name, typed in read.items() if typed.unit_from is not None},
        evidence={name: typed.evidence for name, typed in read.items() if typed.evidence is not None},
        written={name: typed.written for name, typed in read.items() if typed.written is not None},
        sha256=table.sha256,
        part_sums=table.part_sums,
        sheet=table.sheet,
        header_place=table.header_place,
    )


def _columns_found(table: RawTable, section: Cores) -> tuple[dict[str, str | None], list[str]]:
    """Return the file's column for each contract column, and what is wrong with those that are set or required."""
    found: dict[str, str | None] = {}
    faults = []
    for column in REGISTER_COLUMNS:
        try:
            found[column.name] = find_column(table, section.columns, column, "cores")
        except InputError as error:
            faults.append(str(error))
    missing = [column.short for column in REGISTER_COLUMNS if column.required and found.get(column.name, "") is None]
    if missing:
        names = " and ".join(f"`{name}`" for name in missing)
        keys = ", ".join(f'cores.columns.{name} = "..."' for name in missing)
        faults.append(
            f"{table.label}: no column for {names}; the {table.origin} has: {table.listed_columns} "
            f"Set {keys} in the programme file."
        )
    found = {column.name: found.get(column.name) for column in REGISTER_COLUMNS}
    if all(found[column.name] is None for column in REGISTER_COLUMNS if column.required):
        # without any of them the header is not that of a register, and what follows from that would only hide it
        raise InputError(faults[0])
    return found, faults


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
            f"the {table.origin} has: {table.listed_columns} "
            f'Correct {section}.columns.{column.short} = "..." in the programme file.'
        )
    return by_form.get(column.name) or by_form.get(column.short)
