"""Parquet files, and folders of them, with or without geometry."""

from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow as pa
from pyarrow import parquet
from shapely.errors import ShapelyError

from pipeline.errors import InputError
from pipeline.intake.files.frames import first_sentence, raw_table
from pipeline.intake.files.tables import RawTable

__all__ = ["parquet_parts", "read_parquet"]

_ENDINGS: Final = (".parquet", ".geoparquet", ".pq")
# metadata is free text: what it says may be of any kind
_UNREADABLE: Final = (
    pa.ArrowException, OSError, ValueError, RuntimeError, TypeError, LookupError, AttributeError, ShapelyError,
)  # fmt: skip


def parquet_parts(path: Path) -> list[Path]:
    """Return the files of a folder, hidden ones aside; none unless all of them are Parquet files."""
    if not path.is_dir():
        return []
    files = [file for file in sorted(path.rglob("*")) if not file.is_dir()]
    parts = [file for file in files if not any(name.startswith((".", "_")) for name in file.relative_to(path).parts)]
    return parts if all(part.suffix.lower() in _ENDINGS and part.is_file() for part in parts) else []


def read_parquet(path: Path, label: str) -> RawTable:
    """Return what a Parquet file holds, or a folder of them: parts of one table, in the order of their names.

    Raises
    ------
    InputError
        The file cannot be read, or is empty.
    """
    try:
        # of a folder of parts, the first tells whether there is geometry
        metadata = parquet.read_schema([*parquet_parts(path), path][0]).metadata or {}
        frame: pd.DataFrame = gpd.read_parquet(path) if b"geo" in metadata else pd.read_parquet(path)
        # an index with a name is a column
        frame = frame.reset_index(drop=all(name is None for name in frame.index.names))
        declared = frame.crs if isinstance(frame, gpd.GeoDataFrame) else None
    except _UNREADABLE as error:
        raise InputError(f"{label}: cannot be read as Parquet ({first_sentence(error)}). Export it again.") from error
    if frame.empty:
        raise InputError(f"{label}: the file has no rows. Export it again, with the data.")
    return raw_table(frame, np.arange(1, len(frame) + 1), len(frame), label, declared, [])
