"""The table of cores as GeoParquet 1.1: one file in the register's order, or a folder of parts by place."""

from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.programme.outputs import Publish
from pipeline.readback.cores_table import CORES_FILE, CORES_PARTS

__all__ = ["by_place", "write_cores_parquet"]

# GeoParquet's guide for distributing data: 50,000 to 150,000 rows; small enough that a box passes over most of them
ROWS_OF_GROUP: Final = 50_000
_CRS: Final = "EPSG:4326"


def write_cores_parquet(table: pd.DataFrame, folder: Path, wanted: Publish) -> None:
    """Write ``cores.parquet`` in the order of the table, or ``cores/`` in parts, into a run's folder.

    Each file has the points in WGS 84 with their boxes, by which programs filter. Parts are in the order of
    ``by_place``, each with at most ``parquet_rows`` rows.
    """
    if wanted.parquet == "one file":
        _write(table, folder / CORES_FILE)
        return
    (folder / CORES_PARTS).mkdir()
    order = by_place(table)
    for number, start in enumerate(range(0, len(order), wanted.parquet_rows), start=1):
        part = table.iloc[order[start : start + wanted.parquet_rows]]
        _write(part, folder / CORES_PARTS / f"part-{number:04}.parquet")


def by_place(table: pd.DataFrame) -> npt.NDArray[np.intp]:
    """Return the N rows of a table of cores so that those near each other are together.

    District by district, and within each along a Hilbert curve; districts by the median of their cores on that curve,
    so that neighbours follow each other. Cores in no district are one group. Those without a position come last.
    """
    placed = np.flatnonzero((table["lon"].notna() & table["lat"].notna()).to_numpy())
    cores = table.iloc[placed]
    along = gpd.GeoSeries(_points(cores), crs=_CRS).hilbert_distance() if len(placed) else pd.Series(dtype="uint32")
    keys = pd.DataFrame({"district": cores["district"].astype("str").fillna("").to_numpy(), "along": along.to_numpy()})
    keys["middle"] = keys.groupby("district")["along"].transform("median")
    order = keys.sort_values(["middle", "district", "along"], kind="stable").index.to_numpy()
    return np.concatenate([placed[order], np.setdiff1d(np.arange(len(table)), placed)]).astype(np.intp)


def _write(table: pd.DataFrame, file: Path) -> None:
    gpd.GeoDataFrame(table, geometry=_points(table), crs=_CRS).to_parquet(
        file, index=False, compression="zstd", write_covering_bbox=True, row_group_size=ROWS_OF_GROUP
    )


def _points(table: pd.DataFrame) -> npt.NDArray[np.object_]:
    lon, lat = (table[name].to_numpy(dtype=np.float64, na_value=np.nan) for name in ("lon", "lat"))
    points: npt.NDArray[np.object_] = shapely.points(lon, lat)
    points[np.isnan(lon) | np.isnan(lat)] = None
    return points
