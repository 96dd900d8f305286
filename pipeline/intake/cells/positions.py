"""Positions as a register gives them: read, told right from wrong, repaired where the repair is certain."""

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

# how far outside the roads' own extent a core may lie and still be taken for one of theirs
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

    ``x``, ``y``: missing where the row has no position that can be used. ``problem``: why it has none, missing
    where it has one: ``missing``, ``unreadable``, ``zero``, ``out of range``, ``projected`` or ``sign lost``.
    ``repair``: what was repaired, missing where nothing was: ``swapped``, ``decimal comma`` or ``dms``.
    """

    x: npt.NDArray[np.float64]
    y: npt.NDArray[np.float64]
    problem: pd.Series
    repair: pd.Series


def read_coordinates(x_text: pd.Series, y_text: pd.Series, crs: CRS, decimal: str | None) -> Positions:
    """Read two columns of written coordinates.

    Decimal numbers with a point or a comma; in degrees also degrees, minutes and seconds and letters for the
    hemisphere. ``problem`` tells ``missing`` and ``unreadable`` apart; ``repair`` tells what was not plain.
    """
    is_degrees = bool(crs.is_geographic)
    problem = no_text(x_text.index)
    repair = no_text(x_text.index)
    values = []
    for text in (x_text, y_text):
        said_nothing = is_missing(text)
        text = text.str.strip().where(~said_nothing)  # noqa: PLW2901 - the same column, cleaned
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
        # a half that is missing makes the pair missing, whatever the other half says
        problem[said_nothing] = "missing"
        values.append(value)
    problem[is_missing(x_text) | is_missing(y_text)] = "missing"
    x, y = (np.asarray(value, dtype=np.float64) for value in values)
    return Positions(x, y, problem, repair.where(problem.isna()))


def _angles(text: pd.Series) -> pd.Series:
    parts = text.str.extract(_DMS)
    number = {name: pd.to_numeric(parts[name].str.replace(",", ".")) for name in ("degrees", "minutes", "seconds")}
    letter = parts["before"].fillna(parts["after"]).str.upper()
    whole = number["degrees"] + number["minutes"].fillna(0) / 60 + number["seconds"].fillna(0) / 3600
    sane = number["minutes"].fillna(0).lt(60) & number["seconds"].fillna(0).lt(60)
    # a letter and a sign, or two letters, say the same thing twice and may not agree
    sane &= ~(letter.notna() & parts["sign"].notna()) & ~(parts["before"].notna() & parts["after"].notna())
    negative = letter.isin(["S", "W"]) | parts["sign"].eq("-")
    return whole.mask(negative, -whole).where(sane)


def points_of(geometry: npt.NDArray[np.object_]) -> Positions:
    """Take the positions of N point geometries; a multipoint of one point is a point."""
    points = np.where(
        (shapely.get_type_id(geometry) == shapely.GeometryType.MULTIPOINT)
        & (shapely.get_num_geometries(geometry) == 1),
        shapely.get_geometry(geometry, 0),
        geometry,
    )
    nothing = shapely.is_missing(points) | shapely.is_empty(points)
    # an empty point has no x to ask for
    points[nothing] = None
    x, y = shapely.get_x(points), shapely.get_y(points)
    problem = no_text(pd.RangeIndex(len(points)))
    problem[~(np.isfinite(x) & np.isfinite(y))] = "unreadable"
    problem[nothing] = "missing"
    return Positions(x, y, problem, no_text(problem.index))


def near_extent(
    x: npt.NDArray[np.float64], y: npt.NDArray[np.float64], extent: Extent, *, is_degrees: bool
) -> npt.NDArray[np.bool_]:
    """Tell which of N positions lie in an extent or not far beside it."""
    west, south, east, north = extent
    least = _MARGIN_DEGREES if is_degrees else _MARGIN_METRES
    wide, high = max((east - west) * _MARGIN_SHARE, least), max((north - south) * _MARGIN_SHARE, least)
    return (x >= west - wide) & (x <= east + wide) & (y >= south - high) & (y <= north + high)


def judge_positions(read: Positions, crs: CRS, roads: Extent) -> Positions:
    """Tell impossible positions from possible ones, and put swapped axes right.

    Parameters
    ----------
    read
        Coordinates in the register's CRS.
    crs
        That CRS.
    roads
        Extent of the road layer in the same CRS: what shows that axes were swapped or a sign was lost. A core
        that lies elsewhere, and whose slip cannot be told, keeps its position.
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
    # in metres nothing is out of range by itself, but degrees in a column of metres are
    out = beyond & ((np.abs(x) > 180) | (np.abs(y) > 90) if is_degrees else (np.abs(x) <= 180) & (np.abs(y) <= 90))

    problem = read.problem.copy()
    for wrong, word in ((zero, "zero"), (lost, "sign lost"), (projected, "projected"), (out, "out of range")):
        problem[wrong] = word
    repair = read.repair.mask(pd.Series(swapped, problem.index), "swapped").where(problem.isna())
    usable = problem.isna().to_numpy()
    across, up = np.where(swapped, y, x), np.where(swapped, x, y)
    return Positions(np.where(usable, across, np.nan), np.where(usable, up, np.nan), problem, repair)
