"""A pack's GeoPackage read back with bounds: by SQLite alone, without any code that the file itself could bring."""

import hashlib
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import shapely

from pipeline.errors import InputError
from pipeline.readback.pack_files import MOST_COLUMNS
from pipeline.sqlite_steps import Steps

__all__ = [
    "ID",
    "LAYER_STYLES",
    "OF_FORMAT",
    "Layer",
    "columns_of",
    "digest_layer",
    "layer_names",
    "open_package",
    "quoted",
    "read_cells",
    "read_layers",
]

LAYER_STYLES: Final = "layer_styles"
GEOMETRY: Final = "geom"
ID: Final = "fid"
OF_FORMAT: Final = (ID, GEOMETRY)
_TABLES_OF_FORMAT: Final = ("gpkg_", "rtree_", "sqlite_")
# of steps of SQLite's machine; a table of a million rows takes some hundred thousand of these
_MOST_THOUSANDS: Final = 20_000_000
_MOST_ROWS_AT_ONCE: Final = 20_000
# bytes of one text or geometry, columns of a table, and depth of an expression
_LIMITS: Final = {
    sqlite3.SQLITE_LIMIT_LENGTH: 200 << 20,
    sqlite3.SQLITE_LIMIT_SQL_LENGTH: 1 << 20,
    sqlite3.SQLITE_LIMIT_COLUMN: MOST_COLUMNS,
    sqlite3.SQLITE_LIMIT_EXPR_DEPTH: 100,
    sqlite3.SQLITE_LIMIT_COMPOUND_SELECT: 3,
    sqlite3.SQLITE_LIMIT_ATTACHED: 0,
    sqlite3.SQLITE_LIMIT_TRIGGER_DEPTH: 1,
    sqlite3.SQLITE_LIMIT_WORKER_THREADS: 0,
}
# OGC 12-128r17, 2.1.3: bytes of the envelope by the code in the flags of a geometry
_ENVELOPES: Final = (0, 32, 48, 48, 64)
_HEAD: Final = 8
_WHAT_TO_DO: Final = "Ask the sender for the pack again."


class Layer(NamedTuple):
    """A layer: its cells, without id and geometry, and its N geometries."""

    cells: pd.DataFrame
    geometry: npt.NDArray[np.object_]


@contextmanager
def open_package(file: Path) -> Iterator[sqlite3.Connection]:
    """Give a connection that can only read, runs nothing that the file brings, and ends after a number of steps.

    Raises
    ------
    InputError
        It is not a GeoPackage, is damaged, or takes more steps than any pack.
    KeyboardInterrupt
        The command is to stop.
    """
    steps = None
    try:
        address = f"{file.resolve().as_uri()}?mode=ro&immutable=1"
        with closing(sqlite3.connect(address, uri=True)) as database:
            for limit, value in _LIMITS.items():
                database.setlimit(limit, value)
            database.execute("PRAGMA trusted_schema = OFF")
            database.execute("PRAGMA query_only = ON")
            database.execute("PRAGMA cell_size_check = ON")
            # a check is an expression of the file's own
            database.execute("PRAGMA ignore_check_constraints = ON")
            steps = Steps(database, _MOST_THOUSANDS)
            yield database
    except (sqlite3.Error, UnicodeError, OverflowError, MemoryError) as error:
        if steps is not None and steps.were_too_many(error):
            raise InputError(f"{file}: takes more steps to read than any pack does. {_WHAT_TO_DO}") from error
        raise InputError(f"{file}: cannot be read ({error}). {_WHAT_TO_DO}") from error


def quoted(name: str) -> str:
    """Return a name as SQL quotes it."""
    return '"' + name.replace('"', '""') + '"'


def layer_names(database: sqlite3.Connection) -> list[str]:
    """Return the tables and views of a GeoPackage, without those that the format itself needs."""
    rows = database.execute("SELECT name FROM sqlite_master WHERE type IN ('table', 'view')")
    names = [str(name) for (name,) in rows]
    return sorted(name for name in names if not name.casefold().startswith(_TABLES_OF_FORMAT))


def _in_order(database: sqlite3.Connection, layer: str) -> str:
    """Return the column that a table is in the order of: its id, or SQLite's own where it has none."""
    return quoted(ID) if ID in columns_of(database, layer) else "rowid"


def columns_of(database: sqlite3.Connection, layer: str) -> dict[str, str]:
    """Return the columns of a table and their declared types, in the order of the file."""
    return {str(row[1]): str(row[2]) for row in database.execute(f"PRAGMA table_info({quoted(layer)})")}


def read_cells(database: sqlite3.Connection, layer: str, names: list[str]) -> pd.DataFrame:
    """Return cells of a table in the order of its ids: whole numbers, numbers or text; a missing cell is missing."""
    wanted = ", ".join(map(quoted, names)) or "1"
    cursor = database.execute(f"SELECT {wanted} FROM {quoted(layer)} ORDER BY {_in_order(database, layer)}")  # noqa: S608 - quoted
    chunks: list[list[pa.Array]] = []
    while rows := cursor.fetchmany(_MOST_ROWS_AT_ONCE):
        chunks.append([_as_array(cells) for cells in zip(*rows, strict=True)])
    columns = {name: _as_series([chunk[at] for chunk in chunks]) for at, name in enumerate(names)}
    return pd.DataFrame(columns, columns=pd.Index(names, dtype="str"))


def _as_array(cells: tuple[Any, ...]) -> pa.Array:
    kinds = {type(cell) for cell in cells} - {type(None)}
    if kinds == {int}:
        return pa.array(cells, pa.int64())
    if kinds and kinds <= {int, float}:
        return pa.array([None if cell is None else float(cell) for cell in cells], pa.float64())
    if kinds <= {str}:
        return pa.array(cells, pa.string())
    # bytes in a column of texts belong to no pack: they are shown as such, and so differ
    return pa.array(
        [None if cell is None else cell if isinstance(cell, str) else repr(cell) for cell in cells], pa.string()
    )


def _as_series(chunks: list[pa.Array]) -> pd.Series:
    kinds = {chunk.type for chunk in chunks if chunk.null_count < len(chunk)}
    if kinds == {pa.int64()}:
        column = pa.chunked_array([chunk.cast(pa.int64()) for chunk in chunks])
        whole = column.null_count == 0
        return pd.Series(
            column.to_pandas() if whole else column.to_pandas(types_mapper={pa.int64(): pd.Int64Dtype()}.get)
        )
    if kinds and kinds <= {pa.int64(), pa.float64()}:
        return pd.Series(pa.chunked_array([chunk.cast(pa.float64()) for chunk in chunks]).to_pandas())
    return pd.Series(
        pa.chunked_array([chunk.cast(pa.string()) for chunk in chunks], pa.string()).to_pandas(), dtype="str"
    )


def read_layers(database: sqlite3.Connection) -> dict[str, Layer]:
    """Return by name each layer that has a geometry.

    Raises
    ------
    InputError
        A geometry is not in the format of the standard.
    """
    layers = {}
    for layer in layer_names(database):
        names = columns_of(database, layer)
        if GEOMETRY not in names:
            continue
        cells = read_cells(database, layer, [name for name in names if name not in OF_FORMAT])
        wanted = f"SELECT {quoted(GEOMETRY)} FROM {quoted(layer)} ORDER BY {_in_order(database, layer)}"  # noqa: S608 - quoted
        try:
            blobs = [_wkb(blob) for (blob,) in database.execute(wanted)]
            layers[layer] = Layer(cells, shapely.from_wkb(np.array(blobs, dtype=object)))
        except (shapely.errors.ShapelyError, ValueError, TypeError, IndexError) as error:
            raise InputError(f"layer {layer}: a geometry cannot be read ({error}). {_WHAT_TO_DO}") from error
    return layers


def _wkb(blob: bytes | None) -> bytes | None:
    """Return a geometry without the head that the standard (OGC 12-128r17, 2.1.3) puts before it."""
    if blob is None:
        return None
    if blob[:2] != b"GP":
        raise ValueError(f"it begins with {blob[:2]!r}, expected b'GP'")
    return blob[_HEAD + _ENVELOPES[(blob[3] >> 1) & 7] :]


def digest_layer(database: sqlite3.Connection, layer: str, *, has_table: bool) -> dict[str, Any]:
    """Return the number of rows of a layer and their SHA-256.

    ``has_table``: its cells are in a CSV file too, so that ids and geometries alone are digested.
    """
    names = [name for name in columns_of(database, layer) if not has_table or name in OF_FORMAT]
    wanted = ", ".join(map(quoted, names))
    cursor = database.execute(f"SELECT {wanted} FROM {quoted(layer)} ORDER BY {_in_order(database, layer)}")  # noqa: S608 - quoted
    digest, count = hashlib.sha256(repr(names).encode()), 0
    while rows := cursor.fetchmany(_MOST_ROWS_AT_ONCE):
        count += len(rows)
        digest.update("".join(map(repr, rows)).encode("utf-8", "surrogatepass"))
    return {"rows": count, "sha256": digest.hexdigest()}
