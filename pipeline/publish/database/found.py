"""What a database has where runs are to be written, and whether they can be."""

from typing import Any, Final, LiteralString, NamedTuple

from psycopg import Connection

from pipeline.errors import OutputError
from pipeline.publish.database.tables import MARK, TABLES, VIEWS

__all__ = ["Found", "Relation", "look_at"]

_NEEDED: Final = ("SELECT", "INSERT", "UPDATE", "DELETE")
_FIRST_VERSION: Final = 120_000
_OTHER_SCHEMA: Final = "set another schema in publish.database"
# tables and views by names of ours, whoever made them
_RELATIONS: Final = """
    SELECT c.relname, c.relkind::text, coalesce(obj_description(c.oid, 'pg_class'), ''),
        pg_has_role(c.relowner, 'USAGE'),
        array(SELECT need FROM unnest(%(needs)s::text[]) AS need WHERE NOT has_table_privilege(c.oid, need))
    FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
    WHERE n.nspname = %(schema)s AND c.relname = ANY(%(names)s)
    ORDER BY c.relname
"""
_COLUMNS: Final = """
    SELECT c.relname, a.attname, format_type(a.atttypid, a.atttypmod), coalesce(col_description(c.oid, a.attnum), '')
    FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid JOIN pg_namespace n ON n.oid = c.relnamespace
    WHERE n.nspname = %(schema)s AND c.relname = ANY(%(names)s) AND a.attnum > 0 AND NOT a.attisdropped
    ORDER BY c.relname, a.attnum
"""
_SERVER: Final = """
    SELECT current_database(), pg_is_in_recovery(), current_setting('server_version_num')::int,
        current_setting('server_encoding'),
        (SELECT n.nspname FROM pg_extension e JOIN pg_namespace n ON n.oid = e.extnamespace WHERE extname = 'postgis'),
        has_database_privilege(current_database(), 'CREATE'),
        (SELECT array_remove(ARRAY[CASE WHEN NOT has_schema_privilege(oid, 'USAGE') THEN 'USAGE' END,
            CASE WHEN NOT has_schema_privilege(oid, 'CREATE') THEN 'CREATE' END], NULL)
         FROM pg_namespace WHERE nspname = %s)
"""


class Relation(NamedTuple):
    """A table or view that is there.

    ``kind``: as PostgreSQL has it, "r" for a table and "v" for a view. ``is_owned``: it may be changed. ``lacks``:
    rights on it that are missing. ``columns``: the type and comment of each, in their order.
    """

    kind: str
    comment: str
    is_owned: bool
    lacks: list[str]
    columns: dict[str, tuple[str, str]]


class Found(NamedTuple):
    """A schema, and the tables and views in it by names of ours.

    ``lacks``: rights on the schema that are missing, None where there is no such schema. ``may_create``: a schema may
    be made.
    """

    shown: str
    database: str
    schema: str
    may_create: bool
    lacks: list[str] | None
    relations: dict[str, Relation]


def look_at(connection: Connection[Any], shown: str, schema: str) -> Found:
    """Return what is there; from then on the search path of the transaction has PostGIS and nothing else.

    Raises
    ------
    OutputError
        A run cannot be written there: the server only reads or is too old, PostGIS is missing, the encoding has no
        room for every text, or a table is somebody else's or has a column of another type.
    """
    ((database, only_reads, version, encoding, postgis, may_create, lacks),) = connection.execute(_SERVER, (schema,))
    if only_reads:
        raise OutputError(
            f"{shown}: the server is a standby that can only be read, expected one that can be written to. Give the "
            "address of the primary server."
        )
    if version < _FIRST_VERSION:
        raise OutputError(f"{shown}: found PostgreSQL {version // 10_000}, expected 12 or later. Update the server.")
    if encoding != "UTF8":
        raise OutputError(
            f"{shown}: the database is encoded in {encoding}, expected UTF8, which has every character. Have an "
            "administrator make a database with ENCODING 'UTF8'."
        )
    if postgis is None:
        raise OutputError(
            f"{shown}: the database has no PostGIS, which the positions of cores need. Have an administrator run "
            "this in it: CREATE EXTENSION postgis;"
        )
    connection.execute("SELECT set_config('search_path', 'pg_catalog, ' || quote_ident(%s), true)", (postgis,))
    found = Found(shown, database, schema, may_create, lacks, _relations(connection, schema))
    _refuse_those_of_others(found)
    return found


def _relations(connection: Connection[Any], schema: str) -> dict[str, Relation]:
    names = [*(table.name for table in TABLES), *VIEWS]
    given = {"schema": schema, "names": names, "needs": list(_NEEDED)}
    columns: dict[str, dict[str, tuple[str, str]]] = {}
    for name, column, kind, comment in _all(connection, _COLUMNS, given):
        columns.setdefault(name, {})[column] = (kind, comment)
    return {
        name: Relation(kind, comment, owned, lacks, columns.get(name, {}))
        for name, kind, comment, owned, lacks in _all(connection, _RELATIONS, given)
    }


def _all(connection: Connection[Any], query: LiteralString, given: dict[str, Any]) -> list[tuple[Any, ...]]:
    return connection.execute(query, given).fetchall()


def _refuse_those_of_others(found: Found) -> None:
    """Raise an OutputError for a table or view by a name of ours that is somebody else's, or has another column."""
    expected = {table.name: table.columns for table in TABLES}
    for name, there in found.relations.items():
        called = f"{found.schema}.{name}"
        if not there.comment.startswith(MARK) or (there.kind == "v") != (name in VIEWS):
            raise OutputError(
                f"{found.shown}: found {called}, which Kerfbook did not make: its comment does not begin with "
                f'"{MARK.strip()}". It is left as it is. Rename it, or {_OTHER_SCHEMA}.'
            )
        for column in expected.get(name, ()):
            kind, _ = there.columns.get(column.name, (column.type, ""))
            if kind != column.type:
                raise OutputError(
                    f"{found.shown}: column {column.name} of {called} is of type {kind}, expected {column.type}. "
                    f"Rename or drop that column, or {_OTHER_SCHEMA}."
                )
