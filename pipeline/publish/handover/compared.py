"""Every cell of a pack's tables compared with its GeoPackage and with its map, whatever version wrote them."""

import sqlite3
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.contracts import STATUSES
from pipeline.publish.handover.drawn import PackContent, shown_cores
from pipeline.publish.map.cards import DIGITS
from pipeline.publish.map.packing import MOST, shown_texts
from pipeline.readback.pack_files import MAP, PACK_FILES, PACKAGE
from pipeline.readback.pack_map import MapColumns
from pipeline.readback.pack_package import OF_FORMAT, columns_of, read_cells

__all__ = [
    "compare_layers",
    "compare_map",
    "compare_points",
    "differing_cells",
    "first_problem",
    "in_map",
]

_GEOGRAPHIC: Final = "EPSG:4326"
# degrees: positions have seven decimal places in the tables
_POSITION: Final = 1.5e-7
# drawing integers: 2**30 to the width of the world, and the step to which a map of very many cores rounds
_WORLD: Final = 2.0**30
_STEP: Final = 4
# what a row of a table is called in a message, by the first of these columns that it has
_NAMED_BY: Final = {"core_id": "core", "works_id": "works", "rule": "rule"}
_DATES: Final = ("DATE", "DATETIME")
# decimal places that a map shows at most
_DECIMALS: Final = max(DIGITS.values())
_EPOCH: Final = np.datetime64("1970-01-01", "D")
Bools = npt.NDArray[np.bool_]


def compare_layers(content: PackContent, database: sqlite3.Connection, package: str = PACKAGE) -> list[str]:
    """Return a problem per table that does not hold the cells of its layer: the first cell that differs.

    ``package``: name of the GeoPackage that the database is.
    """
    problems = []
    for name, table in content.tables.items():
        layer = PACK_FILES[name].layer
        if layer is None:
            continue
        kinds = {column: kind for column, kind in columns_of(database, layer).items() if column not in OF_FORMAT}
        where = f"{package}, layer {layer}"
        if list(kinds) != list(table):
            problems.append(f"{where}: columns: found {list(kinds)}, expected {list(table)} as in {name}")
            continue
        cells = read_cells(database, layer, list(kinds))
        if len(cells) != len(table):
            problems.append(f"{where}: rows: found {len(cells)}, expected {len(table)} as in {name}")
            continue
        for column, kind in kinds.items():
            differs = differing_cells(table[column], cells[column], is_date=kind in _DATES)
            problems += first_problem(differs, table, name, where, column, cells[column])
    return problems


def differing_cells(wanted: pd.Series, found: pd.Series, *, is_date: bool) -> Bools:
    """Return in which of N cells two columns differ; two missing cells do not."""
    if is_date:
        wanted, found = (
            pd.to_datetime(cells.astype("str"), utc=True, format="ISO8601", errors="coerce")
            for cells in (wanted, found)
        )
    elif pd.api.types.is_numeric_dtype(wanted.dtype):
        if not pd.api.types.is_numeric_dtype(found.dtype) and found.notna().any():
            return np.ones(len(wanted), dtype=bool)
        wanted, found = (pd.to_numeric(cells).astype("float64") for cells in (wanted, found))
    else:
        wanted, found = (cells.astype("object").where(cells.notna(), "").map(str) for cells in (wanted, found))
    both = wanted.isna().to_numpy() & found.isna().to_numpy()
    same = (wanted.to_numpy() == found.to_numpy()) | both
    return ~np.asarray(same, dtype=bool)


def first_problem(
    differs: Bools, table: pd.DataFrame, name: str, where: str, column: str, found: pd.Series
) -> list[str]:
    if not differs.any():
        return []
    at = int(np.flatnonzero(differs)[0])
    named = next((key for key in _NAMED_BY if key in table), None)
    of = f"row {at + 1}" if named is None else f"{_NAMED_BY[named]} {table[named].iloc[at]}"
    count = int(differs.sum())
    return [
        f"{name}: {column} of {of} is {_cell(table[column].iloc[at])}, but {_cell(found.iloc[at])} in {where}"
        + (f"; {count - 1} more cells of {column} differ" if count > 2 else "; one more differs" if count == 2 else "")
    ]


def _cell(value: Any) -> str:  # noqa: ANN401 - any kind of cell
    if isinstance(value, np.generic):
        value = value.item()
    return "empty" if not isinstance(value, dict) and pd.isna(value) else repr(value)[:80]


def compare_points(content: PackContent, package: str = PACKAGE) -> list[str]:
    """Return a problem if the points of the cores are not where the table of cores says; ``package`` as above."""
    table, layer = content.tables["cores.csv"], content.layers["cores"]
    points = layer.geometry.to_crs(_GEOGRAPHIC).to_numpy()
    for column, found in (("lon", shapely.get_x(points)), ("lat", shapely.get_y(points))):
        wanted = table[column].to_numpy(dtype=np.float64)
        same = (np.abs(wanted - found) <= _POSITION) | (np.isnan(wanted) & np.isnan(found))
        problem = first_problem(
            ~same, table, "cores.csv", f"{package}, layer cores, by its point", column, pd.Series(found)
        )
        if problem:
            return problem
    return []


def compare_map(content: PackContent, held: MapColumns) -> list[str]:
    """Return a problem per column of the map's packed data that does not hold the cells of the tables."""
    cores = content.tables["cores.csv"]
    cores = shown_cores(cores[cores["copy_of"].isna()], content.facts["language"]).set_index("row", drop=False)
    if len(held.cores) != len(cores) or set(held.cores["row"]) != set(cores.index):
        return [f"{MAP}: rows of {len(held.cores)} cores, expected those of the {len(cores)} cores in cores.csv"]
    wanted = cores.loc[held.cores["row"].to_numpy()]
    problems = _positions(wanted, held.cores)
    for name in [str(name) for name in held.cores if name in wanted and name != "row"]:
        found = held.cores[name]
        if name == "status":
            cells = pd.Series(np.array([*STATUSES, None], dtype=object)[np.clip(found, -1, len(STATUSES))])
            differs = differing_cells(wanted[name], cells, is_date=False)
        elif name in held.days:
            differs = _differing_days(wanted[name], found)
        elif name in held.digits:
            differs = _differing_numbers(wanted[name], found, held.digits[name])
        else:
            differs = differing_cells(shown_texts(wanted[name]), found, is_date=False)
        problems += first_problem(differs, wanted.reset_index(drop=True), "cores.csv", MAP, name, found)
    return problems + _findings(content, held, cores)


def _differing_numbers(wanted: pd.Series, found: pd.Series, digits: int) -> Bools:
    numbers = wanted.to_numpy(dtype=np.float64, na_value=np.nan)
    off = np.abs(numbers - found.to_numpy(dtype=np.float64))
    # a map leaves out what a browser could not hold exactly, whatever decimal places it states of itself
    fits = np.abs(numbers) * 10.0 ** min(digits, _DECIMALS) < MOST
    # rounded twice, an even half may go either way
    return np.asarray(~((off <= 0.5001 * 10.0**-digits + 1e-9) | (~fits & found.isna().to_numpy())), dtype=bool)


def _differing_days(wanted: pd.Series, found: pd.Series) -> Bools:
    days = pd.to_datetime(wanted.astype("str"), format="%Y-%m-%d", errors="coerce").to_numpy().astype("datetime64[D]")
    numbers = np.where(np.isnat(days), np.nan, (days - _EPOCH).astype(np.float64))
    shown = found.to_numpy(dtype=np.float64)
    return np.asarray(~((numbers == shown) | (np.isnan(numbers) & np.isnan(shown))), dtype=bool)


def _positions(wanted: pd.DataFrame, held: pd.DataFrame) -> list[str]:
    """Compare positions by the formula of the Web Mercator projection (EPSG:3857), in its form with a tangent."""
    lon, lat = (wanted[name].to_numpy(dtype=np.float64, na_value=np.nan) for name in ("lon", "lat"))
    clipped = np.radians(np.clip(lat, -85.05, 85.05))
    for name, share in (("x", (lon + 180) / 360), ("y", 0.5 - np.log(np.tan(np.pi / 4 + clipped / 2)) / (2 * np.pi))):
        found = held[name].to_numpy(dtype=np.float64)
        same = np.where(np.isnan(share), found == -1, np.abs(share * _WORLD - found) <= _STEP)
        degrees = "lon" if name == "x" else "lat"
        problem = first_problem(
            ~same, wanted.reset_index(drop=True), "cores.csv", f"{MAP} (drawn at {name})", degrees, held[name]
        )
        if problem:
            return problem
    return []


def _findings(content: PackContent, held: MapColumns, cores: pd.DataFrame) -> list[str]:
    table = content.tables["findings.csv"]
    wanted = table[table["row"].isin(cores.index)]
    names = ["row", *(str(name) for name in held.findings if name in wanted and name != "row")]
    sides = []
    for frame in (wanted, held.findings):
        texts = {name: frame[name] if name == "row" else shown_texts(frame[name]).fillna("") for name in names}
        sides.append(pd.DataFrame(texts).sort_values(names, kind="stable").reset_index(drop=True))
    if len(sides[0]) != len(sides[1]):
        return [f"{MAP}: {len(sides[1])} findings, expected {len(sides[0])} as in findings.csv"]
    differs = np.zeros(len(sides[0]), dtype=bool)
    for name in names:
        differs |= sides[0][name].to_numpy() != sides[1][name].to_numpy()
    if not differs.any():
        return []
    at = int(np.flatnonzero(differs)[0])
    row = sides[0].iloc[at]
    return [f"findings.csv: a finding of row {row['row']} is not the same in {MAP}: {_cell(row.to_dict())}"]


def in_map(content: PackContent, held: MapColumns) -> dict[str, int]:
    """Return how many columns of the tables of cores and findings ``compare_map`` compares."""
    places = {"lon", "lat"}
    return {
        "cores.csv": len(set(content.tables["cores.csv"]) & ({*held.cores} | places)),
        "findings.csv": len(set(content.tables["findings.csv"]) & {*held.findings}),
    }
