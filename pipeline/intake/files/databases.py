"""GeoPackages and other SQLite files: only tables of their own, and what is not yet in the file itself."""

import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final
from urllib.parse import quote

from pipeline.errors import InputError
from pipeline.scratch import refuse_full
from pipeline.sqlite_steps import Steps

__all__ = ["refuse_endless_views", "refuse_links_in_database", "settled_copy"]

_NOISE: Final = re.compile(r"""--[^\n]*|/\*.*?\*/|'(?:[^']|'')*'|"(?:[^"]|"")*"|`(?:[^`]|``)*`|\[[^\]]*\]""", re.DOTALL)
# indexes, which hold nothing but what the file holds
_INDEXES: Final = {
    "rtree", "rtree_i32", "geopoly", "fts3", "fts4", "fts5", "fts4aux", "fts5vocab",
    "virtualspatialindex", "virtualelementary", "virtualknn", "virtualknn2",
}  # fmt: skip
# functions that open other files or connections, under whatever quotation marks
_REACHING: Final = re.compile(
    r"\b(?:ogr_geocode\w*|ogr_datasource_\w+|ogr_layer_\w+|gdal_get_\w+|load_extension|readfile|writefile|"
    r"blobfromfile|blobtofile|xb_loadxml|(?:import|export)(?:shp|dbf|dxf|wfs|xls|geojson|kml)\w*)\b",
    re.IGNORECASE,
)
# of steps of SQLite's machine: a view of a million rows takes some ten thousand
_MOST_THOUSANDS: Final = 200_000
_MOST_FUNCTIONS: Final = 50
_ROWS_AT_ONCE: Final = 10_000
_MOST_ROWS: Final = 10_000_000
_UNKNOWN: Final = re.compile(r"no such function: (\w+)")
_UNFINISHED: Final = b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7"
_IS_WAL: Final = b"\x02\x02"


def refuse_links_in_database(path: Path, label: str) -> None:
    """Stop where a table or view of a database takes its data from elsewhere.

    Raises
    ------
    InputError
        A table is a link to other data, or the file is no database.
    """
    try:
        with closing(sqlite3.connect(f"file:{quote(str(path))}?mode=ro&immutable=1", uri=True)) as database:
            objects = database.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
    except (sqlite3.Error, UnicodeDecodeError) as error:
        raise InputError(
            f"{label}: cannot be read as a map layer ({error}). Check that the file is complete and of this format."
        ) from error
    for name, sql in objects:
        bare = _NOISE.sub(" ", str(sql))
        module = re.search(r"\bUSING\s+(\w+)", bare, re.IGNORECASE)
        is_virtual = re.match(r"\s*CREATE\s+VIRTUAL\b", bare, re.IGNORECASE)
        if (is_virtual and (module is None or module[1].lower() not in _INDEXES)) or _REACHING.search(str(sql)):
            raise InputError(
                f"{label}: {name!r} in it is a link to other data, not data; expected tables that hold the data. "
                "Export the layer to a new file."
            )


def refuse_endless_views(path: Path, label: str) -> None:
    """Stop where a view of a database, which whoever reads it works out, has no end within a number of steps.

    Raises
    ------
    InputError
        A view takes more steps or rows than one of some million rows.
    """
    with closing(sqlite3.connect(f"file:{quote(str(path))}?mode=ro&immutable=1", uri=True)) as database:
        names = database.execute("SELECT name FROM sqlite_master WHERE type = 'view'").fetchall()
        for (name,) in names:
            if not _ends(database, str(name)):
                raise InputError(
                    f"{label}: the view {name!r} in it takes more steps or rows than a view of some million rows; "
                    "expected one that ends. Export the layer to a new file."
                )


def _ends(database: sqlite3.Connection, view: str) -> bool:
    """Return whether a view gives all its rows, or fails; functions that SQLite alone lacks give nothing."""
    quoted = view.replace('"', '""')
    steps = Steps(database, _MOST_THOUSANDS)
    for _ in range(_MOST_FUNCTIONS):
        try:
            rows = database.execute(f'SELECT * FROM "{quoted}"')  # noqa: S608 - quoted
            if not any(len(rows.fetchmany(_ROWS_AT_ONCE)) < _ROWS_AT_ONCE for _ in range(_MOST_ROWS // _ROWS_AT_ONCE)):
                return False
        except sqlite3.Error as error:
            unknown = _UNKNOWN.search(str(error))
            if unknown is None:
                # whatever else is wrong is said by whoever reads it
                return not steps.were_too_many(error)
            database.create_function(unknown[1], -1, lambda *_: None)
        else:
            return True
    return False


def settled_copy(path: Path, label: str, scratch: Path) -> Path:
    """Return a database whose file holds all its data: itself, or a copy with its write-ahead log written into it.

    A log that is opened where it lies makes files beside the input.

    Raises
    ------
    InputError
        A change to the database was never finished, or its log cannot be read.
    """
    journal, log = (path.with_name(path.name + end) for end in ("-journal", "-wal"))
    if journal.exists() and journal.read_bytes()[:8] == _UNFINISHED:
        raise InputError(
            f"{label}: a change to it was never finished ({journal.name} is beside it). Open and close the file in the "
            "program that wrote it, then run again."
        )
    with path.open("rb") as file:
        is_logged = file.read(20)[18:] == _IS_WAL
    if not is_logged and not log.exists():
        return path
    # an archive is unpacked into the same folder
    copy = scratch / "settled" / path.name
    copy.parent.mkdir()
    shutil.copyfile(path, copy)
    if log.exists():
        shutil.copyfile(log, copy.with_name(log.name))
    try:
        with closing(sqlite3.connect(copy)) as database:
            mode = database.execute("PRAGMA journal_mode = DELETE").fetchone()[0]
    except sqlite3.Error as error:
        refuse_full(error, label)
        raise InputError(
            f"{label}: cannot be read as a map layer ({error}). Close it in the program that has it open, and run "
            "again."
        ) from error
    if mode != "delete":
        raise InputError(
            f"{label}: its write-ahead log cannot be read. Close it in the program that has it open, and run again."
        )
    return copy
