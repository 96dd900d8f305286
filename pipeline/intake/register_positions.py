"""The positions of a register: two columns, one column, or the points of a layer; read, judged and put in degrees."""

from typing import Final, NamedTuple

import numpy as np
import pandas as pd
from pyproj import CRS

from pipeline.contracts import no_text
from pipeline.errors import InputError
from pipeline.intake.cells.positions import Positions, judge_positions, near_extent, points_of, read_coordinates
from pipeline.intake.crs import Extent, extent_of, layer_crs, parse_crs, to_crs
from pipeline.intake.files.tables import RawTable
from pipeline.programme.settings import Cores

__all__ = ["RegisterPositions", "read_positions"]

_LON_NAMES: Final = ("lon", "long", "longitude")
_LAT_NAMES: Final = ("lat", "latitude")


class RegisterPositions(NamedTuple):
    """The positions of N rows.

    ``crs``: of the register. ``columns``: ``x_text``, ``y_text``, ``position_problem``, ``position_repair``, ``x`` and
    ``y`` in that CRS, ``lon``, ``lat``.
    """

    crs: CRS
    columns: dict[str, pd.Series]


def read_positions(table: RawTable, section: Cores, roads: Extent, roads_crs: CRS) -> RegisterPositions:
    """Return the positions of a register; ``table.notices`` grows by what was settled or looks wrong.

    Parameters
    ----------
    table
        What the file holds.
    section
        Settings of the register.
    roads, roads_crs
        Extent of the road layer and its CRS: reveals swapped axes and lost signs.

    Raises
    ------
    InputError
        A column is missing, the CRS is not known, or no core lies near the roads.
    SettingsError
        The CRS that is set does not exist.
    """
    nothing = no_text(table.frame.index)
    if table.geometry is not None and section.x is None and section.y is None:
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
    _report_common_problem(table, positions)
    written = {name: text.where(text.notna(), nothing) for name, text in texts.items()}
    return RegisterPositions(crs, written | _position_columns(positions, crs))


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
