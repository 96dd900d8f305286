"""The columns of the position, their CRS and their order: what puts the cores on the roads."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import is_missing
from pipeline.intake.cells.coordinates import read_column
from pipeline.intake.cells.one_cell_positions import split_positions
from pipeline.intake.crs import name_of
from pipeline.propose.cell_kinds import ColumnCells, cells_of, is_measures
from pipeline.propose.columns import Columns
from pipeline.propose.crs_by_roads import Fit, Floats, Roads, crs_that_fit
from pipeline.propose.questions import Choice, Question, Section, Value

__all__ = ["propose_position"]

_MOST_PAIRS: Final = 6
_ORDERS: Final = {True: ("lat lon", "lon lat"), False: ("y x", "x y")}
_DEGREE_BOUNDS: Final = 180.0
# where no header helps, a column of degrees is looked for this far around the roads
_AROUND_DEG: Final = 1.0
_UNKNOWN_CRS: Final = "EPSG:..."


@dataclass
class _Place:
    """Columns that may hold the position: one, or that of x and that of y, with the numbers in them.

    ``is_open``: the order of two numbers in one cell is not written with them.
    """

    headers: tuple[str, ...]
    first: Floats
    second: Floats
    is_degrees: bool
    is_open: bool
    fits: list[Fit]


def propose_position(section: Section, columns: Columns, frame: pd.DataFrame, roads: Roads | None) -> list[str]:
    """Add the columns of the position, ``crs`` and ``position_order`` to a register; return the headers used.

    Parameters
    ----------
    section
        The register; grows.
    columns
        The headers that may hold a position.
    frame
        What the file holds, rows without a core set aside.
    roads
        The road lines; None leaves the CRS a question.
    """
    places = _places(columns, frame) or _unnamed_places(columns, frame, roads)
    if not places:
        found = ", ".join(columns.cells)
        section.ask(
            Question(
                "Which columns are the position? No header is known, and no cells lie near the roads; the file has: "
                f"{found}.",
                (
                    Choice(
                        'x = "...", y = "..."',
                        "two columns",
                        {("", "x"): "...", ("", "y"): "...", ("", "crs"): _UNKNOWN_CRS},
                    ),
                    Choice('position = "..."', "one column with both", {("", "position"): "..."}),
                ),
            )
        )
        return []
    if roads is not None:
        for place in places:
            place.fits = crs_that_fit(place.first, place.second, roads)
    best = min(places, key=lambda place: (not place.fits, place.fits[0].median_m if place.fits else 0.0))
    _add_columns(section, best)
    for other in places:
        if other is not best and other.fits:
            section.remarks.append(
                f"The position is also in {_quoted(other.headers)}: {other.fits[0].median_m:.1f} m from the nearest "
                f"road line (median)."
            )
    _add_crs(section, best, frame, roads)
    return list(best.headers)


def _quoted(headers: tuple[str, ...]) -> str:
    return " and ".join(f'"{header}"' for header in headers)


def _places(columns: Columns, frame: pd.DataFrame) -> list[_Place]:
    """Return the columns that may hold the position by their headers."""
    found = [_one_cell(header, frame[header]) for header in columns.places.get("position", [])]
    pairs = [(x, y) for x in columns.places.get("x", []) for y in columns.places.get("y", []) if x != y]
    return found + [_two_cells(x, y, frame) for x, y in pairs[:_MOST_PAIRS]]


def _one_cell(header: str, cells: pd.Series) -> _Place:
    """Return a column of both coordinates: the open ones if there are any, else those whose order is written."""
    text = cells.mask(is_missing(cells))
    degrees = split_positions(text, None, is_degrees=True)
    numbers = [read_column(half, None, is_degrees=True).value for half in degrees[:2]]
    is_degrees = bool(np.nanmedian(np.abs(np.concatenate(numbers))) <= _DEGREE_BOUNDS) if _any_read(numbers) else False
    halves = degrees
    if not is_degrees:
        halves = split_positions(text, None, is_degrees=False)
        numbers = [read_column(half, None, is_degrees=False).value for half in halves[:2]]
    open_rows = (halves.order.isna() & halves.first.notna()).to_numpy()
    is_open = bool(open_rows.any())
    if is_open:
        first, second = (np.where(open_rows, one, np.nan) for one in numbers)
    else:
        is_across = halves.order.eq("x y").to_numpy()
        first, second = np.where(is_across, *numbers), np.where(is_across, *reversed(numbers))
    return _Place((header,), first, second, is_degrees, is_open, [])


def _any_read(numbers: list[Floats]) -> bool:
    return any(np.isfinite(one).any() for one in numbers)


def _two_cells(x: str, y: str, frame: pd.DataFrame) -> _Place:
    """Return two columns of one coordinate each."""
    texts = [frame[name].mask(is_missing(frame[name])) for name in (x, y)]
    lengths = [read_column(text, None, is_degrees=False).value for text in texts]
    angles = [read_column(text, None, is_degrees=True).value for text in texts]
    is_degrees = _any_read(angles) and bool(np.nanmedian(np.abs(np.concatenate(angles))) <= _DEGREE_BOUNDS)
    first, second = angles if is_degrees else lengths
    return _Place((x, y), first, second, is_degrees, False, [])


def _unnamed_places(columns: Columns, frame: pd.DataFrame, roads: Roads | None) -> list[_Place]:
    """Return the columns that may hold the position by their cells alone: both numbers in one, or near the roads."""
    taken = set(columns.found.values())
    free = [cells for header, cells in columns.cells.items() if header not in taken]
    one = [_one_cell(cells.header, frame[cells.header]) for cells in free if cells.are_positions]
    if one or roads is None:
        return one
    west, south, east, north = roads.extent
    x = [cells for cells in free if _lies(cells, west, east)]
    y = [cells for cells in free if _lies(cells, south, north)]
    return [_two_cells(a.header, b.header, frame) for a in x for b in y if a is not b][:_MOST_PAIRS]


def _lies(cells: ColumnCells, low: float, high: float) -> bool:
    """Return whether the cells of a column are degrees around the roads."""
    if not cells.filled or not is_measures(cells, "mm"):
        return False
    value = read_column(cells.text, None, is_degrees=True).value
    return bool(np.isfinite(value).any()) and low - _AROUND_DEG <= float(np.nanmedian(value)) <= high + _AROUND_DEG


def _add_columns(section: Section, place: _Place) -> None:
    """Add the column or the columns of the position."""
    if len(place.headers) == 1:
        section.add("", "position", place.headers[0], "both coordinates in one cell")
        return
    swapped = bool(place.fits) and all(fit.swapped for fit in place.fits)
    x, y = reversed(place.headers) if swapped else place.headers
    section.add("", "x", x, "the roads show that this column is the easting or longitude" if swapped else "")
    section.add("", "y", y)


def _add_crs(section: Section, place: _Place, frame: pd.DataFrame, roads: Roads | None) -> None:
    """Add the CRS, and the order of two numbers in one cell."""
    in_one = len(place.headers) == 1
    if len(place.fits) == 1:
        fit = place.fits[0]
        same = f"; {', '.join(fit.same)} would give the same positions" if fit.same else ""
        section.add(
            "",
            "crs",
            _code(fit),
            f"{fit.crs.name}: cores lie {fit.median_m:.1f} m from the nearest road (median){same}",
        )
        if in_one and place.is_open:
            order = _ORDERS[place.is_degrees][0 if fit.swapped else 1]
            section.add("", "position_order", order, "in the other order, no core lies near the roads")
        return
    examples = tuple(" ".join(str(cell) for cell in row) for row in _example_rows(frame[list(place.headers)]))
    if place.fits:
        choices = []
        for fit in place.fits:
            gives: dict[tuple[str, str], Value] = {("", "crs"): _code(fit)}
            if in_one and place.is_open:
                gives["", "position_order"] = _ORDERS[place.is_degrees][0 if fit.swapped else 1]
            same = f"; the same as {', '.join(fit.same)}" if fit.same else ""
            reading = f"{fit.crs.name}: {fit.median_m:.1f} m from the nearest road line (median){same}"
            choices.append(Choice(f'"{name_of(fit.crs)}"', reading, gives))
        text = f"Which CRS is {_quoted(place.headers)} in? These all put the cores near the roads, in different places."
        section.ask(Question(text, tuple(choices), examples))
        return
    why = (
        "there are no roads to compare with"
        if roads is None
        else ("no CRS puts the cores near the roads: the roads may be those of another place, or the grid a local one")
    )
    text = f"Which CRS is {_quoted(place.headers)} in? It is not known, because {why}."
    code = "EPSG:4326" if place.is_degrees else _UNKNOWN_CRS
    reading = "degrees, as GPS receivers give them" if place.is_degrees else "the code of the CRS"
    section.ask(Question(text, (Choice(f'"{code}"', reading, {("", "crs"): code}),), examples))
    if in_one and place.is_open:
        orders = tuple(
            Choice(
                f'"{order}"',
                "the first number is the "
                + (
                    "latitude"
                    if order == "lat lon"
                    else "longitude"
                    if order == "lon lat"
                    else "northing"
                    if order == "y x"
                    else "easting"
                ),
                {("", "position_order"): order},
            )
            for order in _ORDERS[place.is_degrees]
        )
        section.ask(Question(f"Which number comes first in {_quoted(place.headers)}?", orders, examples))


def _example_rows(frame: pd.DataFrame) -> list[tuple[object, ...]]:
    """Return up to three rows that are filled."""
    filled = frame.dropna()
    chosen = cells_of(filled.iloc[:, 0])
    rows = filled[filled.iloc[:, 0].isin(chosen)].drop_duplicates(subset=filled.columns[0])
    return list(rows.itertuples(index=False, name=None))


def _code(fit: Fit) -> str:
    """Return what a programme file has to say for a CRS: its code, or its definition where it has none."""
    return ":".join(authority) if (authority := fit.crs.to_authority()) else fit.crs.to_wkt()
