"""Which rows of two tables of a GeoPackage belong together, by the standard's Related Tables extension."""

import sqlite3
from collections.abc import Sequence
from typing import Final, NamedTuple

import pandas as pd

__all__ = ["Relation", "relate"]

# OGC 18-000, annex C (Table Definition SQL), word for word
_RELATIONS: Final = (
    "CREATE TABLE 'gpkgext_relations' (id INTEGER PRIMARY KEY AUTOINCREMENT, base_table_name TEXT NOT NULL, "
    "base_primary_column TEXT NOT NULL DEFAULT 'id', related_table_name TEXT NOT NULL, "
    "related_primary_column TEXT NOT NULL DEFAULT 'id', relation_name TEXT NOT NULL, "
    "mapping_table_name TEXT NOT NULL UNIQUE)"
)
_EXTENSION: Final = "gpkg_related_tables"
_DEFINITION: Final = "http://www.geopackage.org/18-000.html"
# what GDAL calls the primary key of every table that it writes
_KEY: Final = "fid"


class Relation(NamedTuple):
    """Pairs of a row of ``base`` and one of ``related``, by their numbers in the file, from 1.

    ``kind``: requirements class of the extension that the related table meets, "attributes" or "features". ``table``:
    name of the table that holds the pairs; ``meaning``: what they are, a sentence without a full stop.
    """

    base: str
    related: str
    kind: str
    table: str
    meaning: str
    base_ids: pd.Series
    related_ids: pd.Series


def relate(database: sqlite3.Connection, relations: Sequence[Relation], written_at: str) -> None:
    """Add relations to a GeoPackage; none adds nothing.

    Parameters
    ----------
    database
        The GeoPackage.
    relations
        With different names of their tables.
    written_at
        Time for the list of contents.
    """
    if not relations:
        return
    database.execute(_RELATIONS)
    for relation in relations:
        name = relation.table
        database.execute(
            f"CREATE TABLE {name} ({_KEY} INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, base_id INTEGER NOT NULL, "
            "related_id INTEGER NOT NULL)"
        )
        database.executemany(
            f"INSERT INTO {name} (base_id, related_id) VALUES (?, ?)",  # noqa: S608 - the name is one of our own
            zip(relation.base_ids.tolist(), relation.related_ids.tolist(), strict=True),
        )
        database.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change) "
            "VALUES (?, 'attributes', ?, ?, ?)",
            (name, name, f"{relation.meaning}.", written_at),
        )
    database.executemany(
        "INSERT INTO gpkgext_relations (base_table_name, base_primary_column, related_table_name, "
        "related_primary_column, relation_name, mapping_table_name) VALUES (?, ?, ?, ?, ?, ?)",
        [(one.base, _KEY, one.related, _KEY, one.kind, one.table) for one in relations],
    )
    database.executemany(
        "INSERT INTO gpkg_extensions (table_name, column_name, extension_name, definition, scope) "
        "VALUES (?, NULL, ?, ?, 'read-write')",
        [(table, _EXTENSION, _DEFINITION) for table in ("gpkgext_relations", *(one.table for one in relations))],
    )
