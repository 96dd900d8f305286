"""The register of cores: every row of it, typed, with the reason for each cell that cannot be read."""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import pandas as pd
from pyproj import CRS

from pipeline.contracts import REGISTER_COLUMNS, Column, is_missing, no_text
from pipeline.errors import InputError
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.cells.measures import header_unit, read_measures
from pipeline.intake.cells.positions import Positions, judge_positions, near_extent, points_of, read_coordinates
from pipeline.intake.crs import Extent, extent_of, layer_crs, parse_crs, to_crs
from pipeline.intake.files.tables import RawTable
from pipeline.programme.settings import Cores
from pipeline.wording import counted

__all__ = ["Register", "find_column", "read_register"]

_LON_NAMES: Final = ("lon", "long", "longitude")
_LAT_NAMES: Final = ("lat", "latitude")


@dataclass(frozen=True)
class Register:
    """One file of a register after intake.

    ``frame``: N rows in input order: ``row``, ``register_row`` (the row or line as a person finds it in the file), the
    contract's register columns, ``<column>_text`` and ``<column>_problem`` for measures and dates, ``x_text``,
    ``y_text``, ``position_problem``, ``position_repair``, ``ragged``, ``x`` and ``y`` in the register's CRS, ``lon``,
    ``lat``. ``as_read``: the register's own columns, as text. ``present``: the contract columns that the register has.
    ``units``: the unit of each measure, or "in the cells". ``set_aside``: the rows that hold no core. ``name``: what
    the programme calls the register; ``label``: the file. ``sources``: the file's column for each contract column, None
    where it has none; ``position_headers``: those of the position, none for the points of a layer. ``units_from``: what
    the unit of each measure was taken from.
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


def read_register(table: RawTable, section: Cores, timezone: str, roads: Extent, roads_crs: CRS) -> Register:
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

    Raises
    ------
    InputError
        A required column is missing, sizes have no unit, dates could have day or month first, or no core lies near the
        roads.
    """
    found = _columns_found(table, section)
    places = table.rows if table.places is None else table.places
    columns: dict[str, pd.Series] = {"row": pd.Series(table.rows), "register_row": pd.Series(places)}
    units: dict[str, str] = {}
    for column in REGISTER_COLUMNS:
        columns |= _typed(table, column, found[column.name], section, timezone, units)

    crs, positions, texts = _positions(table, section, roads, roads_crs)
    _report_common_problem(table, positions)
    columns |= texts
    columns |= _position_columns(positions, crs)
    columns["ragged"] = table.ragged if table.ragged is not None else no_text(table.frame.index)
    return Register(
        name=section.register_name,
        frame=pd.DataFrame(columns),
        as_read=table.frame,
        present=frozenset(name for name, source in found.items() if source is not None),
        crs=crs,
        label=table.label,
        rows_in_file=table.rows_in_file,
        units=units,
        set_aside=table.set_aside,
        notices=table.notices,
        sources=found,
        position_headers=() if _is_of_points(table, section) else _coordinate_columns(table, section),
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


def _report_common_problem(table: RawTable, positions: Positions) -> None:
    """Add a notice where most positions share one problem or repair: then it is the settings, not single rows."""
    for reasons in (positions.problem, positions.repair):
        counts = reasons.value_counts()
        if len(counts) and counts.iloc[0] * 2 > len(reasons):
            table.notices.append(
                f"{table.label}: {counts.iloc[0]:,} of {len(reasons):,} positions have the same fault: "
                f"{counts.index[0]}. A setting may be wrong: check cores.x, cores.y and cores.crs."
            )


def _position_columns(positions: Positions, crs: CRS) -> dict[str, pd.Series]:
    """Return positions in the register's CRS and in degrees; one without an image in degrees is out of range."""
    lon, lat = to_crs(positions.x, positions.y, crs, CRS.from_epsg(4326))
    # an extra digit may put a position where the projection is not defined
    nowhere = np.isfinite(positions.x) & ~np.isfinite(lon)
    return {
        "position_problem": positions.problem.mask(pd.Series(nowhere, positions.problem.index), "out of range"),
        "position_repair": positions.repair,
        "x": pd.Series(np.where(nowhere, np.nan, positions.x)),
        "y": pd.Series(np.where(nowhere, np.nan, positions.y)),
        "lon": pd.Series(lon),
        "lat": pd.Series(lat),
    }


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


def _is_of_points(table: RawTable, section: Cores) -> bool:
    return table.geometry is not None and section.x is None and section.y is None


def _positions(
    table: RawTable, section: Cores, roads: Extent, roads_crs: CRS
) -> tuple[CRS, Positions, dict[str, pd.Series]]:
    """Return the register's CRS, its positions, and the text that each coordinate was read from."""
    nothing = no_text(table.frame.index)
    if _is_of_points(table, section):
        assert table.geometry is not None
        read = points_of(table.geometry)
        # the CRS is judged by most of the points: a wrong one is a finding of its row
        bulk = _middle_half(read)
        crs = layer_crs(table.crs, section.crs, _extent(read), table.label, "cores.crs", table.notices, bulk)
        # a layer's coordinates are kept as people would write them
        texts = {"x_text": pd.Series(read.x).astype("str"), "y_text": pd.Series(read.y).astype("str")}
        if read.problem.eq("unreadable").all():
            raise InputError(
                f"{table.label}: the layer has no points; expected a point layer or a table. Correct cores.path."
            )
    else:
        x_name, y_name = _coordinate_columns(table, section)
        if section.crs is None and x_name.strip().casefold() not in _LON_NAMES:
            raise InputError(
                f"{table.label}: the CRS of the columns {x_name!r} and {y_name!r} is not known. "
                'Set cores.crs, such as "EPSG:4326" for degrees.'
            )
        crs = parse_crs(section.crs or "EPSG:4326", "cores.crs")
        texts = {"x_text": table.frame[x_name], "y_text": table.frame[y_name]}
        read = read_coordinates(texts["x_text"], texts["y_text"], crs, section.decimal)
    positions = judge_positions(read, crs, extent_of(roads, roads_crs, crs))
    _refuse_elsewhere(positions, crs, extent_of(roads, roads_crs, crs), table.label)
    return crs, positions, {name: text.where(text.notna(), nothing) for name, text in texts.items()}


def _coordinate_columns(table: RawTable, section: Cores) -> tuple[str, str]:
    """Return the columns of x and y: those set, else those with a usual name."""
    names = list(table.frame.columns)
    by_form = {name.strip().casefold(): name for name in reversed(names)}
    pair = []
    for key, usual in (("x", (*_LON_NAMES, "x", "easting")), ("y", (*_LAT_NAMES, "y", "northing"))):
        wanted = getattr(section, key)
        tried = [wanted] if wanted is not None else list(usual)
        hit = next((by_form[name.strip().casefold()] for name in tried if name.strip().casefold() in by_form), None)
        if hit is None:
            raise InputError(
                f"{table.label}: no column {' or '.join(map(repr, tried))} for the position; the file has: "
                f'{", ".join(names)}. Set cores.{key} = "..." in the programme file.'
            )
        pair.append(hit)
    return pair[0], pair[1]


def _extent(read: Positions) -> Extent:
    """Return the extent of the positions that can be used; zeros where there are none."""
    usable = read.problem.isna().to_numpy()
    if not usable.any():
        return (0.0, 0.0, 0.0, 0.0)
    x, y = read.x[usable], read.y[usable]
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def _middle_half(read: Positions) -> Extent:
    """Return the extent of the middle half of the positions, which no single wrong one moves."""
    usable = read.problem.isna().to_numpy()
    if not usable.any():
        return (0.0, 0.0, 0.0, 0.0)
    west, east = np.quantile(read.x[usable], [0.25, 0.75])
    south, north = np.quantile(read.y[usable], [0.25, 0.75])
    return float(west), float(south), float(east), float(north)


def _refuse_elsewhere(positions: Positions, crs: CRS, roads: Extent, label: str) -> None:
    """Stop where no core lies near the roads: then the settings are wrong, not forty thousand rows."""
    x, y = positions.x, positions.y
    west, south, east, north = roads
    if near_extent(x, y, roads, is_degrees=bool(crs.is_geographic)).any():
        return
    counts = positions.problem.value_counts()
    reasons = ", ".join(f"{count} {reason}" for reason, count in sorted(counts.items()))
    cores = _extent(positions)
    span = f"those with a position extend from {cores[0]:.6g}, {cores[1]:.6g} to {cores[2]:.6g}, {cores[3]:.6g}"
    where = span if positions.problem.isna().any() else "none has a position"
    raise InputError(
        f"{label}: no core lies near the roads ({where}{'; ' + reasons if reasons else ''}); the roads extend from "
        f"{west:.6g}, {south:.6g} to {east:.6g}, {north:.6g} in {crs.name}. "
        f"Check cores.crs, cores.x, cores.y and roads.path."
    )
