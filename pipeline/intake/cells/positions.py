"""Positions of a register: read, checked against the roads, and repaired where the repair is certain."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from pyproj import CRS

from pipeline.contracts import is_missing, no_text
from pipeline.intake.cells.numbers import NUMBER, read_numbers
from pipeline.intake.crs import Extent

__all__ = ["Positions", "judge_positions", "near_extent", "points_of", "read_coordinates"]

# how far outside the extent of the roads a core may lie and still belong to them
_MARGIN_SHARE: Final = 0.1
_MARGIN_DEGREES: Final = 0.05
_MARGIN_METRES: Final = 5000.0

_LETTERS: Final = "[NSEWnsew]"
_DMS: Final = (
    rf"^(?P<before>{_LETTERS})?\s*(?P<sign>[+-])?(?P<degrees>[0-9]{{1,3}}(?:[.,][0-9]+)?)\s*(?:°|º|d|deg|\s)?\s*"
    r"(?:(?P<minutes>[0-9]{1,2}(?:[.,][0-9]+)?)\s*(?:'|′|’|m|min|\s)?\s*"
    r"(?:(?P<seconds>[0-9]{1,2}(?:[.,][0-9]+)?)\s*(?:\"|″|”|''|s|sec)?)?)?\s*"
    rf"(?P<after>{_LETTERS})?$"
)


class Positions(NamedTuple):
    """Positions of N rows, in the register's CRS.

    ``x``, ``y``: missing where the row has no usable position. ``problem``: why it has none, missing where it has one:
    ``missing``, ``unreadable``, ``zero``, ``out of range``, ``projected`` (metres in columns of degrees) or
    ``sign lost``. ``repair``: what was repaired, missing where nothing was: ``swapped``, ``decimal comma`` or ``dms``
    (degrees, minutes and seconds).
    """

    x: npt.NDArray[np.float64]
    y: npt.NDArray[np.float64]
    problem: pd.Series
    repair: pd.Series


def read_coordinates(x_text: pd.Series, y_text: pd.Series, crs: CRS, decimal: str | None) -> Positions:
    """Return two columns of written coordinates as read, not yet checked against the roads.

    Reads decimal numbers with a point or a comma; in degrees also minutes and seconds, and letters for the
    hemisphere. ``problem`` is ``missing`` or ``unreadable``; ``repair`` is ``decimal comma`` or ``dms``.
    """
    is_degrees = bool(crs.is_geographic)
    problem = no_text(x_text.index)
    repair = no_text(x_text.index)
    values = []
    for text in (x_text, y_text):
        is_blank = is_missing(text)
        text = text.str.strip().where(~is_blank)  # noqa: PLW2901 - the same column, cleaned
        value = pd.to_numeric(text, errors="coerce").astype(float)
        odd = text[value.isna() & text.notna()]
        if len(odd):
            commas = read_numbers(odd.where(odd.str.fullmatch(NUMBER)), decimal, lone_comma=is_degrees)
            repair[commas.index[commas.notna()]] = "decimal comma"
            angles = _angles(odd.where(commas.isna())) if is_degrees else commas * np.nan
            repair[angles.index[angles.notna()]] = "dms"
            value = value.fillna(commas).fillna(angles)
        value = value.where(np.isfinite(value))
        problem[value.isna()] = "unreadable"
        # a missing half makes the pair missing, whatever the other half is
        problem[is_blank] = "missing"
        values.append(value)
    problem[is_missing(x_text) | is_missing(y_text)] = "missing"
    x, y = (np.asarray(value, dtype=np.float64) for value in values)
    return Positions(x, y, problem, repair.where(problem.isna()))


def _angles(text: pd.Series) -> pd.Series:
    """Return angles written in degrees, minutes and seconds as decimal degrees; missing where they cannot be read."""
    parts = text.str.extract(_DMS)
    number = {name: pd.to_numeric(parts[name].str.replace(",", ".")) for name in ("degrees", "minutes", "seconds")}
    letter = parts["before"].fillna(parts["after"]).str.upper()
    degrees = number["degrees"] + number["minutes"].fillna(0) / 60 + number["seconds"].fillna(0) / 3600
    sane = number["minutes"].fillna(0).lt(60) & number["seconds"].fillna(0).lt(60)
    # a letter with a sign, or two letters, may contradict each other
    sane &= ~(letter.notna() & parts["sign"].notna()) & ~(parts["before"].notna() & parts["after"].notna())
    negative = letter.isin(["S", "W"]) | parts["sign"].eq("-")
    return degrees.mask(negative, -degrees).where(sane)


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
    return Positions(x, y, problem, no_text(problem.index))


def near_extent(
    x: npt.NDArray[np.float64], y: npt.NDArray[np.float64], extent: Extent, *, is_degrees: bool
) -> npt.NDArray[np.bool_]:
    """Return which of N positions lie in an extent or close to it."""
    west, south, east, north = extent
    least = _MARGIN_DEGREES if is_degrees else _MARGIN_METRES
    wide, high = max((east - west) * _MARGIN_SHARE, least), max((north - south) * _MARGIN_SHARE, least)
    return (x >= west - wide) & (x <= east + wide) & (y >= south - high) & (y <= north + high)


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
        return near_extent(across, up, roads, is_degrees=is_degrees)

    here = near(x, y)
    zero = good & (x == 0) & (y == 0)
    swapped = good & ~zero & ~here & near(y, x)
    elsewhere = good & ~zero & ~here & ~swapped
    lost = elsewhere & (near(-x, y) | near(x, -y) | near(-x, -y) | near(-y, x) | near(y, -x) | near(-y, -x))
    projected = elsewhere & ~lost & ((np.abs(x) > 360) | (np.abs(y) > 360)) if is_degrees else np.zeros_like(good)
    beyond = elsewhere & ~lost & ~projected
    # any number of metres is possible, except one that must be degrees
    out = beyond & ((np.abs(x) > 180) | (np.abs(y) > 90) if is_degrees else (np.abs(x) <= 180) & (np.abs(y) <= 90))

    problem = read.problem.copy()
    for wrong, word in ((zero, "zero"), (lost, "sign lost"), (projected, "projected"), (out, "out of range")):
        problem[wrong] = word
    repair = read.repair.mask(pd.Series(swapped, problem.index), "swapped").where(problem.isna())
    usable = problem.isna().to_numpy()
    across, up = np.where(swapped, y, x), np.where(swapped, x, y)
    return Positions(np.where(usable, across, np.nan), np.where(usable, up, np.nan), problem, repair)
