"""Positions of a register: read, checked against the roads, and repaired where the repair is certain."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from pyproj import CRS

from pipeline.contracts import is_missing, no_text
from pipeline.intake.cells.coordinates import Coordinates, read_column
from pipeline.intake.cells.position_digits import written_steps
from pipeline.intake.crs import FURTHEST, Extent

__all__ = ["Positions", "judge_positions", "near_extent", "paired", "points_of", "read_coordinates"]

# how far outside the extent of the roads a core may lie and still belong to them
_MARGIN_SHARE: Final = 0.1
_MARGIN_DEGREES: Final = 0.05
_MARGIN_METRES: Final = 5000.0


class Positions(NamedTuple):
    """Positions of N rows, in the register's CRS.

    ``x``, ``y``: missing where the row has no usable position. ``problem``: why it has none, missing where it has one:
    ``missing``, ``unreadable``, ``grid letters``, ``zero``, ``out of range``, ``projected`` (metres in columns of
    degrees) or ``sign lost``. ``repair``: what was repaired, missing where nothing was: ``swapped``, ``decimal comma``,
    ``grouped digits`` or ``dms`` (degrees, minutes and seconds). ``x_step``, ``y_step``: the steps that the coordinates
    were rounded to, in the unit of the CRS; missing where nothing is written, as in a layer.
    """

    x: npt.NDArray[np.float64]
    y: npt.NDArray[np.float64]
    problem: pd.Series
    repair: pd.Series
    x_step: npt.NDArray[np.float64]
    y_step: npt.NDArray[np.float64]


def read_coordinates(
    x_text: pd.Series,
    y_text: pd.Series,
    crs: CRS,
    decimal: str | None,
    is_number: npt.NDArray[np.bool_] | None = None,
) -> Positions:
    """Return two columns of written coordinates as read, not yet checked against the roads.

    Reads decimal numbers with a point or a comma and with groups of three digits; in degrees also minutes and seconds,
    and letters for the hemisphere. ``problem`` is ``missing`` or ``unreadable``; ``repair`` is one of ``FORMS``.
    ``is_number``: which rows a workbook stores as numbers.
    """
    is_degrees = bool(crs.is_geographic)
    # a missing half makes the pair missing, whatever the other half is
    is_blank = is_missing(x_text) | is_missing(y_text)
    x, y = (read_column(text.mask(is_missing(text)), decimal, is_degrees=is_degrees) for text in (x_text, y_text))
    return paired(x, y, is_blank, is_number)


def paired(
    x: Coordinates, y: Coordinates, is_blank: pd.Series, is_number: npt.NDArray[np.bool_] | None = None
) -> Positions:
    """Return the positions of N pairs of coordinates; ``is_blank`` are the rows where nothing is written."""
    read = np.isfinite(x.value) & np.isfinite(y.value)
    problem = no_text(is_blank.index).mask(~read, "unreadable").mask(is_blank, "missing")
    repair = no_text(is_blank.index)
    for form in ("grouped digits", "decimal comma", "dms"):
        repair = repair.mask(x.form.eq(form) | y.form.eq(form), form)
    return Positions(x.value, y.value, problem, repair.where(problem.isna()), *written_steps(x, y, is_number))


def points_of(geometry: npt.NDArray[np.object_]) -> Positions:
    """Return the positions of N point geometries; a multipoint of one point counts as a point."""
    points = np.where(
        (shapely.get_type_id(geometry) == shapely.GeometryType.MULTIPOINT)
        & (shapely.get_num_geometries(geometry) == 1),
        shapely.get_geometry(geometry, 0),
        geometry,
    )
    nothing = shapely.is_missing(points) | shapely.is_empty(points)
    # an empty point has no x
    points[nothing] = None
    x, y = shapely.get_x(points), shapely.get_y(points)
    problem = no_text(pd.RangeIndex(len(points)))
    problem[~(np.isfinite(x) & np.isfinite(y))] = "unreadable"
    problem[nothing] = "missing"
    unwritten = np.full(len(points), np.nan)
    return Positions(x, y, problem, no_text(problem.index), unwritten, unwritten)


def near_extent(
    x: npt.NDArray[np.float64], y: npt.NDArray[np.float64], extent: Extent, crs: CRS
) -> npt.NDArray[np.bool_]:
    """Return which of N positions lie in an extent or close to it; all are in the CRS."""
    west, south, east, north = extent
    # across the date line the east has the smaller longitude
    is_across = bool(crs.is_geographic) and east < west
    least = _MARGIN_DEGREES if crs.is_geographic else _MARGIN_METRES / crs.axis_info[0].unit_conversion_factor
    width = east - west + (360 if is_across else 0)
    wide, high = max(width * _MARGIN_SHARE, least), max((north - south) * _MARGIN_SHARE, least)
    after, before = x >= west - wide, x <= east + wide
    return (after | before if is_across else after & before) & (y >= south - high) & (y <= north + high)


def judge_positions(read: Positions, crs: CRS, roads: Extent) -> Positions:
    """Return positions checked against the roads: impossible ones marked and dropped, swapped axes corrected.

    Parameters
    ----------
    read
        Coordinates in the register's CRS.
    crs
        That CRS.
    roads
        Extent of the road layer in the same CRS: it reveals swapped axes and lost signs. A core that lies elsewhere
        and shows neither keeps its position.
    """
    x, y = read.x, read.y
    good = read.problem.isna().to_numpy()
    is_degrees = bool(crs.is_geographic)

    def near(across: npt.NDArray[np.float64], up: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        return near_extent(across, up, roads, crs)

    here = near(x, y)
    zero = good & (x == 0) & (y == 0)
    swapped = good & ~zero & ~here & near(y, x)
    elsewhere = good & ~zero & ~here & ~swapped
    lost = elsewhere & (near(-x, y) | near(x, -y) | near(-x, -y) | near(-y, x) | near(y, -x) | near(-y, -x))
    projected = elsewhere & ~lost & ((np.abs(x) > 360) | (np.abs(y) > 360)) if is_degrees else np.zeros_like(good)
    beyond = elsewhere & ~lost & ~projected
    if is_degrees:
        out = beyond & ((np.abs(x) > 180) | (np.abs(y) > 90))
    else:
        # any number of metres on Earth is possible, except one that must be degrees
        far = (np.abs(x) > FURTHEST) | (np.abs(y) > FURTHEST)
        out = beyond & (far | (np.abs(x) <= 180) & (np.abs(y) <= 90))

    problem = read.problem.copy()
    for wrong, word in ((zero, "zero"), (lost, "sign lost"), (projected, "projected"), (out, "out of range")):
        problem[wrong] = word
    repair = read.repair.mask(pd.Series(swapped, problem.index), "swapped").where(problem.isna())
    usable = problem.isna().to_numpy()
    across, up = np.where(swapped, y, x), np.where(swapped, x, y)
    return Positions(
        np.where(usable, across, np.nan), np.where(usable, up, np.nan), problem, repair,
        np.where(swapped, read.y_step, read.x_step), np.where(swapped, read.x_step, read.y_step),
    )  # fmt: skip
