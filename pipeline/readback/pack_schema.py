"""What a pack's GeoPackage may be made of: no views, only the triggers of the standard, only spatial indexes."""

import re
import sqlite3
from pathlib import Path
from struct import Struct
from typing import Final

__all__ = ["file_problems", "schema_problems"]

# SQLite's file format, 1.3: the page size, how it is written and read, the number of pages, the application's id
_HEAD: Final = Struct(">16sHBB8xL36xL28x")
_MARK: Final = b"SQLite format 3\0"
# OGC 12-128r17, requirement 2
_GEOPACKAGE: Final = int.from_bytes(b"GPKG", "big")
# in place of 65536, which two bytes do not hold
_LARGEST_PAGE: Final = 1

_MOST_ENTRIES: Final = 1000
# the triggers that keep a spatial index and a count up to date, and those on tiles, as GDAL writes them
_TRIGGERS: Final = re.compile(
    r"rtree_(?P<layer>\w+)_geom_(insert|update[1-7]|delete)"
    r"|trigger_(insert|delete|update[12])_feature_count_\w+"
    r"|gpkg_tile_matrix_\w+_(insert|update)"
)
# all that such a trigger does: write the index or the count of its own layer, or refuse
_STATEMENT: Final = re.compile(
    r'INSERT OR REPLACE INTO "rtree_\w+_geom" VALUES|DELETE FROM "rtree_\w+_geom" WHERE id (=|IN)'
    r'|UPDATE "rtree_\w+_geom" SET id = |UPDATE gpkg_ogr_contents SET feature_count = |SELECT RAISE\(ABORT, '
)
_BODY: Final = re.compile(r"\bBEGIN\b(.*)\bEND\s*$", re.DOTALL)
# a check or a computed column is an expression that SQLite would work out, for as long as it takes
_EXPRESSION: Final = re.compile(r"\bCHECK\s*\(|\bAS\s*\(", re.IGNORECASE)
_QUOTED: Final = re.compile(r"\"(?:[^\"]|\"\")*\"|'(?:[^']|'')*'|`[^`]*`|\[[^\]]*\]|--[^\n]*|/\*.*?\*/", re.DOTALL)
_INDEX: Final = re.compile(r'CREATE VIRTUAL TABLE "rtree_\w+_geom" USING rtree\(id, minx, maxx, miny, maxy\)')


def file_problems(file: Path) -> list[str]:
    """Return what the head of a GeoPackage has that no pack's has: bytes after its end, another way of writing."""
    with file.open("rb") as source:
        head = source.read(_HEAD.size)
        size = source.seek(0, 2)
    if len(head) < _HEAD.size or not head.startswith(_MARK):
        return ["cannot be read (not a GeoPackage)"]
    _, page, written, read, pages, application = _HEAD.unpack(head)
    page = 1 << 16 if page == _LARGEST_PAGE else page
    problems = []
    if page * pages != size:
        problems.append(f"{size:,} bytes, expected {pages:,} pages of {page:,} bytes and nothing after them")
    if (written, read) != (1, 1):
        problems.append("is to be read with a second file (a write-ahead log), which no pack has")
    if application != _GEOPACKAGE:
        problems.append("is not marked as a GeoPackage")
    return problems


def schema_problems(database: sqlite3.Connection) -> list[str]:
    """Return what a GeoPackage has that does not belong into one; read before anything else of it.

    The entries are read as text: nothing they say is carried out.
    """
    rows = database.execute(
        "SELECT type, name, tbl_name, sql FROM sqlite_master LIMIT ?", (_MOST_ENTRIES + 1,)
    ).fetchall()
    if len(rows) > _MOST_ENTRIES:
        return [f"more than {_MOST_ENTRIES:,} tables, indexes and triggers, which no pack has"]
    problems = []
    for kind, name, table, sql in rows:
        if kind == "view":
            problems.append(f"has a view, {name}, which no pack has")
        elif kind == "trigger" and not _is_of_standard(str(name), str(sql)):
            problems.append(f"has a trigger on {table}, {name}, which is not one of the GeoPackage standard")
        elif (
            kind == "table"
            and str(sql).lstrip().casefold().startswith("create virtual")
            and not _INDEX.fullmatch(str(sql))
        ):
            problems.append(f"has a virtual table, {name}, which is not a spatial index")
        elif kind == "table" and _EXPRESSION.search(_QUOTED.sub("x", str(sql))):
            problems.append(f"has a table, {name}, with a check or a computed column, which no pack has")
        elif kind == "index" and sql is not None:
            problems.append(f"has an index, {name}, which no pack has")
    return problems


def _is_of_standard(name: str, sql: str) -> bool:
    body = _BODY.search(sql)
    if not _TRIGGERS.fullmatch(name) or body is None:
        return False
    # a text in quotes may hold a semicolon
    statements = re.sub(r"'(?:[^']|'')*'", "''", body[1]).split(";")
    return all(_STATEMENT.match(statement.strip()) for statement in statements if statement.strip())
