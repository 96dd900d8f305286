"""What the catalogue of a PostgreSQL database says of its tables: which there are, and what tells their rows apart."""

from typing import Any

import psycopg
from psycopg import sql

__all__ = ["postgis_schema", "primary_key", "readable_tables", "tells_rows_apart"]


def readable_tables(connection: "psycopg.Connection[Any]") -> list[str]:
    """Return the tables and views that can be read, without the database's own and those of PostGIS."""
    found = connection.execute(
        r"""
        SELECT format('%I.%I', n.nspname, c.relname) FROM pg_catalog.pg_class c
        JOIN pg_catalog.pg_namespace n ON n.oid = c.relnamespace
        WHERE c.relkind IN ('r', 'v', 'm', 'f', 'p') AND n.nspname !~ '^pg_' AND n.nspname <> 'information_schema'
          AND c.relname NOT IN (
            'spatial_ref_sys', 'geometry_columns', 'geography_columns', 'raster_columns', 'raster_overviews'
          )
          AND has_schema_privilege(n.oid, 'USAGE') AND has_table_privilege(c.oid, 'SELECT')
        ORDER BY n.nspname::text COLLATE "C", c.relname::text COLLATE "C"
        """
    )
    return [name for (name,) in found]


def primary_key(connection: "psycopg.Connection[Any]", table: sql.Identifier) -> list[str]:
    """Return the columns of a table's primary key; none of a view."""
    found = connection.execute(
        """
        SELECT a.attname FROM pg_catalog.pg_index i
        JOIN pg_catalog.pg_attribute a ON a.attrelid = i.indrelid AND a.attnum = ANY(i.indkey)
        WHERE i.indrelid = to_regclass(%s) AND i.indisprimary
        """,
        [table.as_string(connection)],
    )
    return [name for (name,) in found]


def tells_rows_apart(connection: "psycopg.Connection[Any]", table: sql.Identifier, column: str) -> bool:
    """Return whether no two rows of a table can have the same value in a column."""
    found = connection.execute(
        """
        SELECT 1 FROM pg_catalog.pg_index i
        JOIN pg_catalog.pg_attribute a ON a.attrelid = i.indrelid AND a.attnum = i.indkey[0] AND a.attnotnull
        WHERE i.indrelid = to_regclass(%s) AND i.indisunique AND i.indisvalid AND i.indpred IS NULL
          AND i.indnkeyatts = 1 AND a.attname = %s
        """,
        [table.as_string(connection), column],
    )
    return found.fetchone() is not None


def postgis_schema(connection: "psycopg.Connection[Any]") -> str:
    """Return the schema that PostGIS is in, which need not be on the search path."""
    found = connection.execute(
        "SELECT extnamespace::regnamespace::text FROM pg_catalog.pg_extension WHERE extname = 'postgis'"
    ).fetchone()
    return str(found[0]).strip('"') if found else "public"
