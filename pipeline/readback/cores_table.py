"""The table of cores of a finished run, read again: one Parquet file, or a folder of parts."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import pandas as pd
import pyarrow as pa
from pyarrow import parquet

__all__ = ["CORES_FILE", "CORES_PARTS", "UNREADABLE", "holds_run", "read_cores_table", "where_cores_are"]

CORES_FILE: Final = "cores.parquet"
CORES_PARTS: Final = "cores"
# what a file that is damaged or missing ends in
UNREADABLE: Final = (OSError, ValueError, pa.ArrowException)
# the columns that only a Parquet file has: the point, and the box that programs filter by
_OF_PLACE: Final = ("geometry", "bbox")


def where_cores_are(folder: Path) -> Path:
    """Return the file or the folder of parts that holds a run's table of cores; neither needs to exist."""
    parts = folder / CORES_PARTS
    return parts if parts.is_dir() and not (folder / CORES_FILE).is_file() else folder / CORES_FILE


def holds_run(folder: Path) -> bool:
    """Return whether a folder is that of a run, which must stay unchanged."""
    return (folder / "run.json").is_file() and where_cores_are(folder).exists()


def read_cores_table(place: Path, columns: Sequence[str] | None = None) -> pd.DataFrame:
    """Return the table of cores in the register's order, without its points; ``columns``: those wanted, or all."""
    parts = sorted(place.glob("*.parquet")) if place.is_dir() else [place]
    if not parts:
        raise FileNotFoundError("no part of the table")
    table = pa.concat_tables([_read(part, columns) for part in parts], promote_options="permissive")
    if place.is_dir() and "row" in table.column_names:
        table = table.sort_by("row")
    frame: pd.DataFrame = table.to_pandas()
    return frame


def _is_place(field: pa.Field) -> bool:
    return field.name in _OF_PLACE and (pa.types.is_binary(field.type) or pa.types.is_struct(field.type))


def _read(file: Path, columns: Sequence[str] | None) -> pa.Table:
    if columns is None:
        # a register's own column of such a name, as earlier versions have it, is text
        columns = [field.name for field in parquet.read_schema(file) if not _is_place(field)]
    # by the path of one file: a folder named like a column would be read as one
    return parquet.ParquetFile(file).read(columns=list(columns))
