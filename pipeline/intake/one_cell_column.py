"""The positions of a register that has both coordinates in one column: its CRS, its order, its numbers."""

from typing import Final, NamedTuple

import numpy as np
import pandas as pd
from pyproj import CRS
from pyproj.exceptions import CRSError

from pipeline.contracts import is_missing
from pipeline.errors import InputError
from pipeline.intake.cells.coordinates import Coordinates, read_column
from pipeline.intake.cells.one_cell_positions import Halves, split_positions
from pipeline.intake.cells.position_order import ORDERS, in_order, settle_order
from pipeline.intake.cells.positions import Positions, near_extent, paired
from pipeline.intake.crs import Extent, parse_crs, roads_extent
from pipeline.programme.ranges import shortened
from pipeline.programme.settings import Cores

__all__ = ["read_position_column"]

# cells are plainly degrees if at least this share of those that can be read is
_PLAIN: Final = 0.9
_EXAMPLES: Final = 3
_NAMES: Final = {
    True: {"y x": ("latitude", "longitude"), "x y": ("longitude", "latitude")},
    False: {"y x": ("northing", "easting"), "x y": ("easting", "northing")},
}


def read_position_column(
    text: pd.Series, section: Cores, roads: Extent, roads_crs: CRS, label: str, key: str, notices: list[str]
) -> tuple[CRS, Positions]:
    """Return the CRS and the positions of N cells that each hold both coordinates.

    Parameters
    ----------
    text
        The cells; ``text.name`` is the column.
    section
        Settings of the register: ``crs``, ``decimal`` and ``position_order``.
    roads, roads_crs
        Extent of the road layer and its CRS.
    label, key
        The file, and the table of its settings, for messages.
    notices
        Grows by how the order was settled.

    Raises
    ------
    InputError
        The CRS is not known, or the two numbers of a cell could be in either order.
    SettingsError
        The CRS that is set does not exist.
    """
    is_blank = is_missing(text)
    written = text.mask(is_blank)
    given = parse_crs(section.crs, f"{key}.crs") if section.crs else None
    read = _read(written, section.decimal, is_degrees=given is None or bool(given.is_geographic))
    crs = given or _crs_of(written, read, label, key)
    if given is None and not crs.is_geographic:
        read = _read(written, section.decimal, is_degrees=False)
    halves, first, second = read
    extent = roads_extent(roads, roads_crs, crs, label, f"{key}.crs")
    is_open = (halves.order.isna() & halves.first.notna()).to_numpy()
    order = halves.order
    if is_open.any():
        said = section.position_order
        chosen = ORDERS[said] if said else _settled(written, first, second, is_open, extent, crs, label, key, notices)
        order = order.fillna(chosen)
    found = paired(*in_order(first, second, order), is_blank)
    problem = found.problem.mask(found.problem.eq("unreadable") & halves.has_grid, "grid letters")
    code = crs.to_authority()
    if code is not None:
        # a cell that names another CRS cannot be read with the others
        problem = problem.mask(halves.srid.notna() & halves.srid.ne(code[1]), "unreadable")
    return crs, found._replace(problem=problem, repair=found.repair.where(problem.isna()))


class _Read(NamedTuple):
    """N cells split, and the numbers of both halves."""

    halves: Halves
    first: Coordinates
    second: Coordinates


def _read(written: pd.Series, decimal: str | None, *, is_degrees: bool) -> _Read:
    halves = split_positions(written, decimal, is_degrees=is_degrees)
    first, second = (read_column(half, decimal, is_degrees=is_degrees) for half in halves[:2])
    return _Read(halves, first, second)


def _crs_of(written: pd.Series, as_degrees: _Read, label: str, key: str) -> CRS:
    """Return the CRS that the cells name, or degrees where they are plainly degrees."""
    halves, first, second = as_degrees
    codes = halves.srid.dropna().unique()
    if len(codes) == 1:
        try:
            return CRS.from_epsg(int(codes[0]))
        except (CRSError, ValueError) as error:
            # more digits than a number may have
            raise InputError(
                f'{label}: no CRS has the code {shortened(f"EPSG:{codes[0]}")}, which the column "{written.name}" '
                f"gives. Set {key}.crs to the CRS of these coordinates."
            ) from error
    a, b = np.abs(first.value), np.abs(second.value)
    read = np.isfinite(a) & np.isfinite(b)
    plain = (np.minimum(a, b) <= 90) & (np.maximum(a, b) <= 180)
    if plain.sum() >= _PLAIN * max(read.sum(), 1):
        return CRS.from_epsg(4326)
    example = written[~plain & written.notna()].iloc[0]
    raise InputError(
        f'{label}: the CRS of the column "{written.name}" is not known: cells such as "{example}" are not degrees. '
        f'Set {key}.crs to the CRS of these coordinates, such as "EPSG:32617".'
    )


def _settled(
    written: pd.Series,
    first: Coordinates,
    second: Coordinates,
    is_open: np.ndarray,
    extent: Extent,
    crs: CRS,
    label: str,
    key: str,
    notices: list[str],
) -> str:
    """Return the order of the cells that do not say it, and report how it was settled."""
    is_degrees = bool(crs.is_geographic)
    settled = settle_order(first, second, is_open, lambda x, y: near_extent(x, y, extent, crs), is_degrees=is_degrees)
    names = _NAMES[is_degrees]
    if settled.order is not None:
        if settled.reason:
            notices.append(
                f'{label}: positions in the column "{written.name}" are read as {", ".join(names[settled.order])}: '
                f"{settled.reason}."
            )
        return settled.order
    shown = written[is_open & np.isfinite(first.value) & np.isfinite(second.value)].drop_duplicates().index[:_EXAMPLES]
    readings = [
        f'"{written[row]}" is '
        + " or ".join(
            f"{one} {first.value[row]:.10g}, {other} {second.value[row]:.10g}" for one, other in names.values()
        )
        for row in shown
    ]
    choices = ("lat lon", "lon lat") if is_degrees else ("x y", "y x")
    raise InputError(
        f'{label}: the order of the coordinates in the column "{written.name}" is not known, because '
        f"{settled.reason}: {'; '.join(readings)}. "
        f'Set {key}.position_order = "{choices[0]}" or "{choices[1]}" in the programme file.'
    )
