"""The cells of all registers of a programme by what they mean, and spoiled cells written back where they are from."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from pyproj import CRS

from pipeline.contracts import no_text
from pipeline.intake import Inputs
from pipeline.intake.crs import to_crs
from pipeline.intake.files.tables import RawTable, as_text
from pipeline.intake.register import Register

__all__ = ["Sheet", "sheet_of"]

_XY: Final = ["x", "y"]
# what one cell holds of a position: two numbers, with other text about them
_TWO_NUMBERS: Final = r"^([^\d+-]*)([-+]?\d+(?:[.,]\d+)?)([^\d.+-]+?)([-+]?\d+(?:[.,]\d+)?)([^\d]*)$"
_ZONE_DEGREES: Final = 6


@dataclass(frozen=True)
class Sheet:
    """The cells of N rows, all registers one below the other.

    ``cells``: as written, missing where blank: the register columns that at least one register has, by their names in
    the contract and in the order of the first file, and ``x`` and ``y``, the two numbers of the position. ``part``:
    which file each row is from. ``grid``: ``x`` and ``y`` in another coordinate system, and ``is_degrees``.
    ``headers``: by file, the file's column for each of the cells. ``one_cell``: by file, whether one cell holds the
    position.
    """

    cells: pd.DataFrame
    part: npt.NDArray[np.intp]
    grid: pd.DataFrame
    headers: list[dict[str, str]]
    one_cell: list[bool]

    def written(self, tables: Sequence[RawTable], rows: npt.NDArray[np.intp], after: pd.DataFrame) -> list[RawTable]:
        """Return the tables of the registers with spoiled rows.

        Parameters
        ----------
        tables
            The registers as they were read, which stay as they are.
        rows, after
            The positions of M rows among the N, and their cells; those that are as before are not written.
        """
        before = self.cells.iloc[rows]
        starts = np.searchsorted(self.part, np.arange(len(tables)))
        spoiled = []
        for number, table in enumerate(tables):
            mine = self.part[rows] == number
            spoiled.append(
                self._with_cells(number, table, rows[mine] - starts[number], before[mine], after[mine])
                if mine.any()
                else table
            )
        return spoiled

    def _with_cells(
        self, number: int, table: RawTable, at: npt.NDArray[np.intp], before: pd.DataFrame, after: pd.DataFrame
    ) -> RawTable:
        """Return one table with the cells of some of its rows replaced."""
        frame, headers = table.frame.copy(), self.headers[number]
        stored = None if table.stored_as_number is None else table.stored_as_number.copy()
        after = after.set_axis(before.index)
        moved = _differs(before[_XY], after[_XY]).any(axis="columns").to_numpy()
        changed = _differs(before, after)
        for name, header in headers.items():
            if not changed[name].any():
                continue
            held, new = frame[header].iloc[at].set_axis(after.index), after[name]
            if self.one_cell[number] and name in _XY:
                new = _in_one_cell(held, after)
            new = new.where(changed[name], held)
            frame[header] = _replaced(frame[header], at, new)
            if stored is not None and header in stored:
                is_number = pd.to_numeric(new, errors="coerce").notna().to_numpy()
                truths = stored[header].to_numpy().copy()
                truths[at] &= is_number
                stored[header] = truths
        geometry = table.geometry
        if "x" not in headers and geometry is not None and moved.any():
            geometry = geometry.copy()
            xy = after.loc[moved, _XY].apply(pd.to_numeric, errors="coerce").to_numpy(dtype=float)
            points = shapely.points(xy)
            points[np.isnan(xy).any(axis=1)] = None
            geometry[at[moved]] = points
        return replace(table, frame=frame, geometry=geometry, stored_as_number=stored, notices=[*table.notices])

    def holdable(self, rows: npt.NDArray[np.intp], after: pd.DataFrame) -> npt.NDArray[np.bool_]:
        """Return for M rows whether their files can hold such cells, and whether these differ from the true ones.

        A point layer holds numbers alone as positions; a blank in one half of a cell with two numbers is no slip of it.
        """
        before = self.cells.iloc[rows]
        after = after.set_axis(before.index)
        differs = _differs(before, after).any(axis="columns").to_numpy()
        is_point = np.array(["x" not in headers for headers in self.headers])[self.part[rows]]
        numbers = after[_XY].apply(pd.to_numeric, errors="coerce").notna().all(axis="columns")
        blank = after[_XY].isna().all(axis="columns")
        same = ~_differs(before[_XY], after[_XY]).any(axis="columns")
        in_one = np.array(self.one_cell)[self.part[rows]]
        filled = after[_XY].notna().all(axis="columns")
        able = ~is_point | (numbers | blank | same).to_numpy()
        whole: npt.NDArray[np.bool_] = differs & able & (~in_one | (filled | blank | same).to_numpy())
        return whole


def _differs(one: pd.DataFrame, other: pd.DataFrame) -> pd.DataFrame:
    return one.ne(other) & ~(one.isna() & other.isna())


def _replaced(column: pd.Series, at: npt.NDArray[np.intp], texts: pd.Series) -> pd.Series:
    values = column.to_numpy(dtype=object).copy()
    values[at] = texts.to_numpy(dtype=object)
    return pd.Series(values, column.index, dtype="str", name=column.name)


def _in_one_cell(held: pd.Series, after: pd.DataFrame) -> pd.Series:
    """Return cells that hold both numbers of a position, with other numbers in the text about them; blank with none."""
    parts = held.str.extract(_TWO_NUMBERS)
    # the second number of the two comes when the first is there already
    return parts[0] + after["x"] + parts[2] + after["y"] + parts[4]


def sheet_of(inputs: Inputs, tables: Sequence[RawTable]) -> Sheet:
    """Return the cells of the registers of a programme.

    Parameters
    ----------
    inputs
        As an audit reads them.
    tables
        The same registers as raw tables, in the order of ``inputs.register.parts``.
    """
    parts, frames, headers, grids = inputs.register.parts, [], [], []
    start = 0
    for part, table in zip(parts, tables, strict=True):
        core = inputs.cores.iloc[start : start + len(table.frame)]
        start += len(table.frame)
        own, cells = _cells_of(part, table, core)
        frames.append(cells)
        headers.append(own)
        grids.append(_other_grid(part.crs, core))
    cells = pd.concat(frames, ignore_index=True)
    places = {name: at for at, name in enumerate(tables[0].frame.columns)}
    order = sorted(cells.columns, key=lambda name: places.get(headers[0].get(name, ""), len(places)))
    return Sheet(
        cells=cells[order].astype("str"),
        part=np.repeat(np.arange(len(tables)), [len(table.frame) for table in tables]),
        grid=pd.concat(grids, ignore_index=True),
        headers=headers,
        one_cell=[len(part.position_headers) == 1 for part in parts],
    )


def _cells_of(part: Register, table: RawTable, core: pd.DataFrame) -> tuple[dict[str, str], pd.DataFrame]:
    """Return the file's column for each cell, and the cells of one file."""
    headers = {name: header for name, header in part.sources.items() if header is not None}
    cells = {name: table.frame[header] for name, header in headers.items()}
    position = part.position_headers
    if len(position) == 1:
        numbers = table.frame[position[0]].str.extract(_TWO_NUMBERS)
        cells |= {"x": numbers[1], "y": numbers[3]}
        headers["x"] = position[0]
    elif position:
        cells |= {"x": table.frame[position[0]], "y": table.frame[position[1]]}
        headers |= {"x": position[0], "y": position[1]}
    else:
        cells |= {name: core[f"{name}_text"].reset_index(drop=True) for name in _XY}
    frame = pd.DataFrame(cells, index=table.frame.index).reset_index(drop=True)
    return headers, frame.where(frame.apply(lambda texts: texts.str.strip().ne("")), None)


def _other_grid(crs: CRS, core: pd.DataFrame) -> pd.DataFrame:
    """Return positions in the run's metres where the register has degrees, otherwise in the next UTM zone."""
    lon, lat = core["lon"].to_numpy(), core["lat"].to_numpy()
    if crs.is_geographic or not np.isfinite(lon).any():
        x, y = core["x_m"].to_numpy(), core["y_m"].to_numpy()
    else:
        zone = int((np.nanmedian(lon) + 180) // _ZONE_DEGREES) % 60 + 2
        next_zone = CRS.from_epsg((32600 if np.nanmedian(lat) >= 0 else 32700) + (zone if zone <= 60 else 1))
        x, y = to_crs(lon, lat, CRS.from_epsg(4326), next_zone)
    texts = {name: as_text(pd.Series(np.round(values, 2))) for name, values in zip(_XY, (x, y), strict=True)}
    nothing = no_text(core.index).reset_index(drop=True)
    written = pd.DataFrame({name: text.where(text.notna(), nothing) for name, text in texts.items()})
    return written.assign(is_degrees=crs.is_geographic)
