"""The register of cores: every row of it, typed, with a word on each cell that could not be read."""

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

__all__ = ["Register", "find_column", "read_register"]

_LON_NAMES: Final = ("lon", "long", "longitude")
_LAT_NAMES: Final = ("lat", "latitude")


@dataclass(frozen=True)
class Register:
    """The register after intake.

    ``frame``: N rows in input order: ``row``, the contract's register columns, ``<column>_text`` and
    ``<column>_problem`` for measures and dates, ``x_text``, ``y_text``, ``position_problem``,
    ``position_repair``, ``ragged``, ``same_row`` (equal where rows are equal in every cell), ``is_copy``, ``x`` and
    ``y`` in the register's CRS, ``lon``, ``lat``. ``as_read``: the register's own columns, as text. ``present``: the
    contract columns that the register really has.
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
    """Understand a raw register.

    Parameters
    ----------
    table
        What the file holds.
    section
        Settings of the register.
    timezone
        IANA name of the zone that instants without an offset are in.
    roads, roads_crs
        Extent of the road layer and its CRS: tells swapped axes and lost signs.

    Raises
    ------
    InputError
        A needed column is missing, sizes have no unit or dates no order of day and month, or no core lies near
        the roads.
    """
    found = {column.name: find_column(table, section.columns, column, "cores") for column in REGISTER_COLUMNS}
    lost = [column for column in REGISTER_COLUMNS if column.required and found[column.name] is None]
    if lost:
        raise InputError(
            f"{table.label}: no column for `{lost[0].short}`; the file has: {', '.join(table.frame.columns)}. "
            f'Set cores.columns.{lost[0].short} = "..." in the programme file.'
        )
    columns: dict[str, pd.Series] = {"row": pd.Series(table.rows)}
    units: dict[str, str] = {}
    for column in REGISTER_COLUMNS:
        columns |= _typed(table, column, found[column.name], section, timezone, units)

    crs, positions, texts = _positions(table, section, roads, roads_crs)
    for said in (positions.problem, positions.repair):
        counts = said.value_counts()
        if len(counts) and counts.iloc[0] * 2 > len(said):
            table.notices.append(
                f"{table.label}: {counts.iloc[0]} of {len(said)} positions are alike: {counts.index[0]}. "
                "That is no slip of single rows: check cores.x, cores.y and cores.crs."
            )
    lon, lat = to_crs(positions.x, positions.y, crs, CRS.from_epsg(4326))
    # a figure too many may leave a place that no projection knows
    nowhere = np.isfinite(positions.x) & ~np.isfinite(lon)
    if nowhere.any():
        positions = positions._replace(
            x=np.where(nowhere, np.nan, positions.x),
            y=np.where(nowhere, np.nan, positions.y),
            problem=positions.problem.mask(pd.Series(nowhere, positions.problem.index), "out of range"),
        )
    columns |= texts
    columns |= {
        "position_problem": positions.problem,
        "position_repair": positions.repair,
        "x": pd.Series(positions.x),
        "y": pd.Series(positions.y),
        "lon": pd.Series(lon),
        "lat": pd.Series(lat),
        "ragged": table.ragged if table.ragged is not None else no_text(table.frame.index),
    }
    columns |= _copies(table.frame, texts)
    present = frozenset(name for name, source in found.items() if source is not None)
    return Register(
        pd.DataFrame(columns),
        table.frame,
        present,
        crs,
        table.label,
        table.rows_in_file,
        units,
        table.notices,
    )


def _copies(as_read: pd.DataFrame, texts: dict[str, pd.Series]) -> dict[str, pd.Series]:
    """Rows that are the same in every cell: which they are, and which of them repeat an earlier one."""
    whole = as_read.assign(**{f"position {name}": text for name, text in texts.items()})
    group = whole.groupby(list(whole.columns), dropna=False, sort=False).ngroup()
    return {"same_row": group, "is_copy": group.duplicated()}


def find_column(table: RawTable, mapping: dict[str, str], column: Column, section: str) -> str | None:
    """Return the file's column for a contract column: the one set, else one of the same name, else None.

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
    name = column.name
    text = table.frame[source] if source is not None else no_text(table.frame.index)
    if column.kind == "text":
        # a blank id or street is no id and no street, but "NA" may be one
        return {name: text.str.strip().where(lambda cells: cells.ne(""))}

    def refuse(what: str, remedy: str) -> None:
        """Stop for a column that was asked for; leave out one that only happens to have the name."""
        if column.required or name in section.columns:
            raise InputError(f"{table.label}: column {source!r} for `{column.short}` {what}. {remedy}")
        table.notices.append(f"{table.label}: column {source!r} {what}, and is left out. {remedy}")

    nothing = no_text(table.frame.index)
    said = (~is_missing(text)).sum()
    if column.kind == "instant":
        dates = read_dates(text, timezone, day_first=section.day_first)
        unsettled = dates.problem.eq("day or month first")
        if unsettled.sum() * 2 > said:
            example = text[unsettled].iloc[0]
            refuse(
                f"writes dates like {example!r}, where day or month may come first",
                "Set cores.day_first = true or false in the programme file.",
            )
            text, dates = nothing, read_dates(nothing, timezone, day_first=True)
        elif unsettled.any():
            table.notices.append(
                f"{table.label}: {unsettled.sum()} dates such as {text[unsettled].iloc[0]!r} in column {source!r} "
                "are not read: day or month may come first. Set cores.day_first = true or false."
            )
        return {name: dates.instants, f"{name}_text": text, f"{name}_problem": dates.problem}
    own = column.unit if source is not None and source.casefold() == name else None
    bare = section.units.get(name) or own or (header_unit(source, column.unit) if source and column.unit else None)
    read = read_measures(text, column.unit, bare, section.decimal)
    unitless = read.problem.eq("no unit")
    if unitless.any() and unitless.sum() == said:
        refuse(
            f"holds bare numbers such as {text[unitless].iloc[0]!r}",
            f'Say their unit: cores.units = {{ {column.short} = "{column.unit}" }} in the programme file.',
        )
        text, read = nothing, read_measures(nothing, column.unit, None, None)
    if source is not None and column.unit:
        units[name] = bare or "in the cells"
    return {name: read.values, f"{name}_text": text, f"{name}_problem": read.problem}


def _positions(
    table: RawTable, section: Cores, roads: Extent, roads_crs: CRS
) -> tuple[CRS, Positions, dict[str, pd.Series]]:
    nothing = no_text(table.frame.index)
    if table.geometry is not None and section.x is None and section.y is None:
        read = points_of(table.geometry)
        # by most of the points: one that is wrong is a matter of its row
        bulk = _middle_half(read)
        crs = layer_crs(table.crs, section.crs, _extent(read), table.label, "cores.crs", table.notices, bulk)
        # what a layer's point said is kept as people would write it
        texts = {"x_text": pd.Series(read.x).astype("str"), "y_text": pd.Series(read.y).astype("str")}
        if read.problem.eq("unreadable").all():
            raise InputError(f"{table.label}: the layer holds no points. Cores are read from a point layer or a table.")
    else:
        x_name, y_name = _coordinate_columns(table, section)
        if section.crs is None and x_name.strip().casefold() not in _LON_NAMES:
            raise InputError(
                f"{table.label}: the CRS of the columns {x_name!r}, {y_name!r} is not said. "
                'Set cores.crs, such as "EPSG:4326" for degrees.'
            )
        crs = parse_crs(section.crs or "EPSG:4326", "cores.crs")
        texts = {"x_text": table.frame[x_name], "y_text": table.frame[y_name]}
        read = read_coordinates(texts["x_text"], texts["y_text"], crs, section.decimal)
    positions = judge_positions(read, crs, extent_of(roads, roads_crs, crs))
    _refuse_elsewhere(positions, crs, extent_of(roads, roads_crs, crs), table.label)
    return crs, positions, {name: text.where(text.notna(), nothing) for name, text in texts.items()}


def _coordinate_columns(table: RawTable, section: Cores) -> tuple[str, str]:
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
    usable = read.problem.isna().to_numpy()
    if not usable.any():
        return (0.0, 0.0, 0.0, 0.0)
    x, y = read.x[usable], read.y[usable]
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def _middle_half(read: Positions) -> Extent:
    usable = read.problem.isna().to_numpy()
    if not usable.any():
        return (0.0, 0.0, 0.0, 0.0)
    west, east = np.quantile(read.x[usable], [0.25, 0.75])
    south, north = np.quantile(read.y[usable], [0.25, 0.75])
    return float(west), float(south), float(east), float(north)


def _refuse_elsewhere(positions: Positions, crs: CRS, roads: Extent, label: str) -> None:
    """A register of another town is an error of the programme, not of its forty thousand rows."""
    x, y = positions.x, positions.y
    west, south, east, north = roads
    if near_extent(x, y, roads, is_degrees=bool(crs.is_geographic)).any():
        return
    counts = positions.problem.value_counts()
    said = ", ".join(f"{count} {word}" for word, count in sorted(counts.items()))
    cores = _extent(positions)
    span = f"the placed ones run from {cores[0]:.6g}, {cores[1]:.6g} to {cores[2]:.6g}, {cores[3]:.6g}"
    where = span if positions.problem.isna().any() else "none can be placed"
    raise InputError(
        f"{label}: no core lies near the roads ({where}{'; ' + said if said else ''}); the roads run from "
        f"{west:.6g}, {south:.6g} to {east:.6g}, {north:.6g} in {crs.name}. "
        f"Check cores.crs, cores.x and cores.y, and roads.path."
    )
