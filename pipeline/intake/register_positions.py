"""The positions of a register: two columns, one column, or the points of a layer; read, judged and put in degrees."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
from pyproj import CRS

from pipeline.contracts import no_text
from pipeline.errors import InputError, SettingsError
from pipeline.intake.cells.coordinates import FORMS
from pipeline.intake.cells.position_digits import ground_rounding
from pipeline.intake.cells.positions import Positions, judge_positions, near_extent, points_of, read_coordinates
from pipeline.intake.crs import Extent, corners, layer_crs, parse_crs, roads_extent, to_crs
from pipeline.intake.crs_source import crs_cure, crs_source
from pipeline.intake.files.tables import RawTable, float_text
from pipeline.intake.one_cell_column import read_position_column
from pipeline.programme.settings import Cores

__all__ = ["RegisterPositions", "read_positions", "without_usual_forms"]

_LON_NAMES: Final = ("lon", "long", "longitude")
_LAT_NAMES: Final = ("lat", "latitude")


class RegisterPositions(NamedTuple):
    """The positions of N rows.

    ``crs``: of the register. ``columns``: ``x_text``, ``y_text`` (a cell that holds both is ``x_text``, and ``y_text``
    is missing), ``position_problem``, ``position_repair``, ``x`` and ``y`` in that CRS, ``lon``, ``lat``,
    ``position_step_m``, ``rounding_sigma_m``, ``accuracy_by_register_m``. ``headers``: the file's columns that they
    were read from; none for the points of a layer.
    """

    crs: CRS
    columns: dict[str, pd.Series]
    headers: tuple[str, ...] = ()


def read_positions(
    table: RawTable, section: Cores, roads: Extent, roads_crs: CRS, key: str = "cores", note: str = "Check roads.path."
) -> RegisterPositions:
    """Return the positions of a register; ``table.notices`` grows by what was settled or looks wrong.

    Parameters
    ----------
    table
        What the file holds.
    section
        Settings of the register.
    roads, roads_crs
        Extent of the road layer and its CRS: reveals swapped axes, lost signs and the order of two numbers in a cell.
    key
        The register's table in the programme file, for messages.
    note
        What to look at in the roads where no core lies near them.

    Raises
    ------
    InputError
        A column is missing, the CRS or the order of the coordinates is not known, or no core lies near the roads.
    SettingsError
        The CRS that is set does not exist, or both one column and two are set.
    """
    nothing = no_text(table.frame.index)
    check = f"Check {key}.crs, {key}.x and {key}.y."
    in_one = section.position is not None
    if in_one and (section.x is not None or section.y is not None):
        raise SettingsError(
            f"{key}.position: found together with {key}.x or {key}.y, expected one column with both coordinates or two "
            "with one each. Delete what does not apply."
        )
    if table.geometry is not None and not in_one and section.x is None and section.y is None:
        crs, read = _read_points(table, section, key)
        check = f"The CRS of the cores is {crs_source(table, section, crs, key)}. {crs_cure(table, section, crs, key)}"
        # a layer's coordinates are kept as people would write them
        texts = {"x_text": float_text(pd.Series(read.x)), "y_text": float_text(pd.Series(read.y))}
    elif section.position is not None:
        cells = table.frame[_named(table, [section.position], f"{key}.position")]
        check = f"Check {key}.crs, {key}.position and {key}.position_order."
        crs, read = read_position_column(cells, section, roads, roads_crs, table.label, key, table.notices)
        texts = {"x_text": cells, "y_text": nothing}
    else:
        x_name, y_name = _coordinate_columns(table, section, key)
        crs = _column_crs(table, section, x_name, y_name, key)
        texts = {"x_text": table.frame[x_name], "y_text": table.frame[y_name]}
        stored = _stored_as_numbers(table, x_name, y_name)
        read = read_coordinates(texts["x_text"], texts["y_text"], crs, section.decimal, stored)
    extent = roads_extent(roads, roads_crs, crs, table.label, f"{key}.crs")
    positions = judge_positions(read, crs, extent)
    _refuse_elsewhere(positions, crs, extent, table.label, f"{check} {note}")
    _report_common_problem(table, positions, [f"{key}.position_order"] if in_one else [f"{key}.x", f"{key}.y"], key)
    positions = positions._replace(repair=without_usual_forms(positions.repair, section.decimal))
    written = {name: text.where(text.notna(), nothing) for name, text in texts.items()}
    accuracy = np.nan if section.position_accuracy_m is None else float(section.position_accuracy_m)
    columns = written | _position_columns(positions, crs)
    # the coordinates of points are no columns of the file, and have no name
    headers = tuple(str(text.name) for text in texts.values() if text.name is not None)
    return RegisterPositions(crs, columns | {"accuracy_by_register_m": pd.Series(accuracy, table.frame.index)}, headers)


def _read_points(table: RawTable, section: Cores, key: str) -> tuple[CRS, Positions]:
    """Return the CRS and the points of a layer."""
    assert table.geometry is not None
    read = points_of(table.geometry)
    # the CRS is judged by most of the points: a wrong one is a finding of its row
    bulk = _middle_half(read)
    crs = layer_crs(table.crs, section.crs, _extent(read), table.label, f"{key}.crs", table.notices, bulk, table.srid)
    if read.problem.eq("unreadable").all():
        raise InputError(
            f"{table.label}: the layer has no points; expected a point layer or a table. Correct {key}.path."
        )
    return crs, read


def _column_crs(table: RawTable, section: Cores, x_name: str, y_name: str, key: str) -> CRS:
    """Return the CRS of two columns: the one set, or degrees where the first is named for them."""
    if section.crs is None and x_name.strip().casefold() not in _LON_NAMES:
        raise InputError(
            f"{table.label}: the CRS of the columns {x_name!r} and {y_name!r} is not known. "
            f'Set {key}.crs, such as "EPSG:4326" for degrees.'
        )
    return parse_crs(section.crs or "EPSG:4326", f"{key}.crs")


def _stored_as_numbers(table: RawTable, x_name: str, y_name: str) -> npt.NDArray[np.bool_] | None:
    """Return the rows that a workbook stores as numbers, whose zeros at the end do not show; None for text."""
    if table.stored_as_number is None:
        return None
    stored: npt.NDArray[np.bool_] = table.stored_as_number[[x_name, y_name]].any(axis="columns").to_numpy(dtype=bool)
    return stored


def without_usual_forms(repair: pd.Series, decimal: str | None) -> pd.Series:
    """Return the repairs of N positions without those that only say how the register is written.

    A form that the programme declares, or that more than half of the positions have, is no exception worth a note.
    """
    declared = {None: (), ".": ("grouped digits",), ",": ("grouped digits", "decimal comma")}[decimal]
    usual = [form for form in FORMS if form in declared or repair.eq(form).sum() * 2 > len(repair)]
    return repair.mask(repair.isin(usual))


def _coordinate_columns(table: RawTable, section: Cores, key: str) -> tuple[str, str]:
    """Return the columns of x and y: those set, else those with a usual name."""
    x = [section.x] if section.x is not None else [*_LON_NAMES, "x", "easting"]
    y = [section.y] if section.y is not None else [*_LAT_NAMES, "y", "northing"]
    return _named(table, x, f"{key}.x"), _named(table, y, f"{key}.y")


def _named(table: RawTable, tried: list[str], setting: str) -> str:
    """Return the first column with one of the names, whatever its case."""
    names = list(table.frame.columns)
    by_form = {name.strip().casefold(): name for name in reversed(names)}
    hit = next((by_form[name.strip().casefold()] for name in tried if name.strip().casefold() in by_form), None)
    if hit is None:
        raise InputError(
            f"{table.label}: no column {' or '.join(map(repr, tried))} for the position; the {table.origin} has: "
            f'{table.listed_columns} Set {setting} = "..." in the programme file.'
        )
    return hit


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


def _refuse_elsewhere(positions: Positions, crs: CRS, roads: Extent, label: str, check: str) -> None:
    """Stop where no core lies near the roads: then the settings are wrong, not forty thousand rows."""
    x, y = positions.x, positions.y
    if near_extent(x, y, roads, crs).any():
        return
    counts = positions.problem.value_counts()
    reasons = ", ".join(f"{count} {reason}" for reason, count in sorted(counts.items()))
    span = f"those with a position extend from {corners(_extent(positions))}"
    where = span if positions.problem.isna().any() else "none has a position"
    raise InputError(
        f"{label}: no core lies near the roads ({where}{'; ' + reasons if reasons else ''}); the roads extend from "
        f"{corners(roads)} in {crs.name}. {check}"
    )


def _report_common_problem(table: RawTable, positions: Positions, settings: list[str], key: str) -> None:
    """Add a notice where most positions share one problem or are swapped: then it is the settings, not single rows.

    Parameters
    ----------
    table
        Its notices may grow.
    positions
        Of all rows.
    settings
        The settings that say which coordinate is which.
    key
        The register's table in the programme file.
    """
    # a form that most positions have is how the register is written, and no fault
    for reasons in (positions.problem, positions.repair.where(positions.repair.eq("swapped"))):
        counts = reasons.value_counts()
        if len(counts) and counts.iloc[0] * 2 > len(reasons):
            table.notices.append(
                f"{table.label}: {counts.iloc[0]:,} of {len(reasons):,} positions have the same fault: "
                f"{counts.index[0]}. A setting may be wrong: check {', '.join(settings)} and {key}.crs."
            )


def _position_columns(positions: Positions, crs: CRS) -> dict[str, pd.Series]:
    """Return positions in the register's CRS and in degrees; one without an image in degrees is out of range."""
    lon, lat = to_crs(positions.x, positions.y, crs, CRS.from_epsg(4326))
    rounding = ground_rounding(positions.x_step, positions.y_step, lat, crs)
    # an extra digit may put a position where the projection is not defined
    nowhere = np.isfinite(positions.x) & ~np.isfinite(lon)
    return {
        "position_problem": positions.problem.mask(pd.Series(nowhere, positions.problem.index), "out of range"),
        "position_repair": positions.repair,
        "x": pd.Series(np.where(nowhere, np.nan, positions.x)),
        "y": pd.Series(np.where(nowhere, np.nan, positions.y)),
        "lon": pd.Series(lon),
        "lat": pd.Series(lat),
        "position_step_m": pd.Series(rounding.step_m),
        "rounding_sigma_m": pd.Series(rounding.sigma_m),
    }
