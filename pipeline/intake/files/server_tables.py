"""Tables and queries of a PostgreSQL database: what they hold, and in which order and parts their rows are read."""

import difflib
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Final

import psycopg
from psycopg import sql

from pipeline.databases import reason_of
from pipeline.errors import InputError, SettingsError
from pipeline.intake.files.server_catalogue import postgis_schema, primary_key, readable_tables, tells_rows_apart
from pipeline.programme.input_files import Layer, table_parts
from pipeline.programme.ranges import shortened

__all__ = ["Part", "Relation", "ServerColumn", "parts_of", "relation_of"]

_NUMBERS: Final = {"int2", "int4", "int8", "float4", "float8", "numeric"}
# no text that anybody could read
_BYTES: Final = {"bytea", "raster"}
_SHAPES: Final = {"geometry", "geography"}
_ROWS_PER_PART: Final = 100_000
_MOST_LISTED: Final = 12
_ROW_NUMBER: Final = "kerfbook row number"
# names, statements, and values of another type than what they are compared with
_WRONG_SQL: Final = (psycopg.ProgrammingError, psycopg.NotSupportedError, psycopg.DataError)
_ALIAS: Final = sql.SQL("q")


@dataclass(frozen=True)
class ServerColumn:
    """A column: its name, its type's name, whether it is text, and what it is called in our own queries."""

    name: str
    kind: str
    is_text: bool
    alias: sql.Composable

    @property
    def is_shape(self) -> bool:
        """Whether it holds shapes."""
        return self.kind in _SHAPES

    @property
    def is_bytes(self) -> bool:
        """Whether it holds what cannot be shown as text."""
        return self.kind in _BYTES

    @property
    def collated(self) -> sql.Composed:
        """Return what sorts by it the same way on every server."""
        return self.alias + sql.SQL(' COLLATE "C"' if self.is_text else "")


@dataclass(frozen=True)
class Relation:
    """What is read: all its rows, its columns, and what sorts them.

    ``rows``: a query with the alias ``q`` and a name of our own for each column. ``columns``: as its author named them.
    ``order``: the same on every server; by all cells of a row where nothing else tells rows apart (``by_content``).
    ``key``: the column of the setting ``key``. ``number``: the row's number, where a condition leaves out rows.
    ``rows_in_all``: without the condition; None where it was not counted. ``postgis``: the schema of its functions.
    """

    rows: sql.Composed
    columns: tuple[ServerColumn, ...]
    order: sql.Composed
    by_content: bool = False
    key: ServerColumn | None = None
    number: ServerColumn | None = None
    rows_in_all: int | None = None
    postgis: str = "public"


@dataclass(frozen=True)
class Part:
    """One part of the rows: the condition that selects it."""

    condition: sql.Composable


def relation_of(connection: "psycopg.Connection[Any]", section: Layer, name: str, label: str) -> Relation:
    """Return the table or the query that a section names.

    Raises
    ------
    InputError
        There is no such table, or the query is not one statement that only reads.
    SettingsError
        There is no such key, or the condition of ``where`` does not apply.
    """
    if section.sql is not None:
        own = section.sql.strip().removesuffix(";")
        source = sql.Composed([sql.SQL(own)])
        columns = _described_query(connection, source, name, label)
        primary: list[str] = []
    else:
        table = sql.Identifier(*table_parts(section.table or ""))
        source = sql.SQL("SELECT * FROM {}").format(table)
        columns = _described_table(connection, source, name, label)
        primary = primary_key(connection, table)
    key = _key_column(columns, section.key, name, label)
    sorting = [key] if key is not None else [one for one in columns if one.name in primary]
    by_name = [replace(one, alias=sql.Identifier(one.name)) for one in sorting]
    is_unique = bool(primary) and key is None
    if key is not None and section.sql is None and not key.is_shape:
        is_unique = tells_rows_apart(connection, table, key.name)
    postgis = postgis_schema(connection)
    relation = Relation(
        _aliased(source, columns), columns, _order(sorting, _ALIAS, postgis, is_unique=is_unique),
        by_content=not sorting, key=key, postgis=postgis,
    )  # fmt: skip
    if section.where is None:
        return relation
    order = _order(by_name, sql.SQL("t"), postgis, is_unique=is_unique)
    return _with_condition(connection, relation, table, order, section.where, name, label)


def _with_condition(
    connection: "psycopg.Connection[Any]", relation: Relation, table: sql.Identifier, order: sql.Composed, where: str,
    name: str, label: str,
) -> Relation:  # fmt: skip
    """Return a table's rows that a condition selects, each with its number among all of them."""
    numbered = sql.SQL("SELECT *, row_number() OVER (ORDER BY {}) AS {} FROM {} AS t").format(
        order, sql.Identifier(_ROW_NUMBER), table
    )
    source = sql.SQL("SELECT * FROM ({}) AS t WHERE ({}\n)").format(numbered, sql.SQL(where))
    try:
        columns = _described(connection, source)
    except _WRONG_SQL as error:
        raise SettingsError(
            f"{name}.where: found {shortened(where)}, expected an SQL condition on {label} "
            f"({_reason(connection, error)}). "
            f"Its columns: {', '.join(column.name for column in relation.columns)}. Correct it."
        ) from None
    asked = connection.execute(sql.SQL("SELECT count(*) FROM {}").format(table)).fetchone()
    return replace(
        relation, rows=_aliased(source, columns), order=sql.Composed([columns[-1].alias]), number=columns[-1],
        rows_in_all=asked[0] if asked else 0,
    )  # fmt: skip


def _aliased(source: sql.Composed, columns: tuple[ServerColumn, ...]) -> sql.Composed:
    """Return a query as a table with names of our own: those of a query need not be different."""
    names = sql.SQL(", ").join(sql.Identifier(f"c{number}") for number in range(1, len(columns) + 1))
    return sql.SQL("({}\n) AS {}({})").format(source, _ALIAS, names)


def _described(connection: "psycopg.Connection[Any]", source: sql.Composed) -> tuple[ServerColumn, ...]:
    """Return the columns of a query, without a row of it."""
    # within a savepoint, so that more can be asked after an error; a prepared statement is a single one
    with connection.transaction():
        query = sql.SQL("SELECT * FROM ({}\n) AS q LIMIT 0").format(source)
        found = connection.execute(query, prepare=True).description or []
    kinds = {
        oid: (kind, category)
        for oid, kind, category in connection.execute(
            "SELECT oid, typname, typcategory FROM pg_catalog.pg_type WHERE oid = ANY(%s)",
            [[column.type_code for column in found]],
        )
    }
    return tuple(
        ServerColumn(
            column.name, kinds[column.type_code][0], kinds[column.type_code][1] == "S",
            sql.SQL("q.{}").format(sql.Identifier(f"c{number}")),
        )
        for number, column in enumerate(found, 1)
    )  # fmt: skip


def _described_query(
    connection: "psycopg.Connection[Any]", source: sql.Composed, name: str, label: str
) -> tuple[ServerColumn, ...]:
    try:
        return _described(connection, source)
    except psycopg.errors.InsufficientPrivilege:
        raise
    except _WRONG_SQL as error:
        raise InputError(
            f"{label}: the database cannot read {name}.sql ({_reason(connection, error)}). Expected one SELECT "
            "statement, which only reads; correct it."
        ) from None


def _described_table(
    connection: "psycopg.Connection[Any]", source: sql.Composed, name: str, label: str
) -> tuple[ServerColumn, ...]:
    try:
        return _described(connection, source)
    except (psycopg.errors.UndefinedTable, psycopg.errors.InvalidSchemaName):
        pass
    asked = label.rpartition("table ")[2]
    near = difflib.get_close_matches(asked, there := readable_tables(connection), n=_MOST_LISTED, cutoff=0.5)
    listed = ([*near, *(one for one in there if one not in near)])[:_MOST_LISTED]
    more = f" and {len(there) - len(listed):,} more" if len(there) > len(listed) else ""
    what = (
        f"the tables that can be read there are: {', '.join(listed)}{more}" if there else "no table can be read there"
    )
    raise InputError(f"{label}: no such table; {what}. Correct {name}.table.")


def _reason(connection: "psycopg.Connection[Any]", error: psycopg.Error) -> str:
    return reason_of(error, (connection.info.user, connection.info.password))


def _key_column(columns: tuple[ServerColumn, ...], key: str | None, name: str, label: str) -> ServerColumn | None:
    if key is None:
        return None
    found = [column for column in columns if column.name == key]
    found = found or [column for column in columns if column.name.casefold() == key.strip().casefold()]
    if len(found) != 1:
        raise SettingsError(
            f"{name}.key: found {key!r}, expected one column of {label}: {', '.join(one.name for one in columns)}. "
            "Correct it."
        )
    return found[0]


def _order(columns: list[ServerColumn], row: sql.SQL, postgis: str, *, is_unique: bool) -> sql.Composed:
    """Return what rows are sorted by; where the columns do not tell all rows apart, by all their cells as text."""
    parts: list[sql.Composable] = []
    for column in columns:
        parts += [_corner(column, side, postgis) for side in "xy"] if column.is_shape else [column.collated]
    if not is_unique:
        parts.append(sql.SQL('{}::text COLLATE "C"').format(row))
    return sql.SQL(", ").join(parts)


def _corner(column: ServerColumn, side: str, postgis: str) -> sql.Composed:
    """Return the west or south end of a shape."""
    return sql.SQL("{}({}::{})").format(
        sql.Identifier(postgis, f"st_{side}min"), column.alias, sql.Identifier(postgis, "geometry")
    )


def parts_of(connection: "psycopg.Connection[Any]", relation: Relation, rows: int) -> list[Part]:
    """Return the parts that rows are read in, in their order: ranges of the key with about the same number of rows.

    One part where the rows are few, or no key of numbers or shapes is set.
    """
    key = relation.key
    count = -(-rows // _ROWS_PER_PART)
    if key is None or count < 2 or not (key.is_shape or key.kind in _NUMBERS):
        return [Part(sql.SQL("true"))]
    value: sql.Composable = _corner(key, "x", relation.postgis) if key.is_shape else key.alias
    kind = sql.SQL("float8" if key.is_shape else key.kind)
    shares = [number / count for number in range(1, count)]
    query = sql.SQL("SELECT (percentile_disc({}::float8[]) WITHIN GROUP (ORDER BY {}))::text[] FROM {}")
    found = connection.execute(query.format(sql.Literal(shares), value, relation.rows)).fetchone()
    edges = [
        sql.SQL("{}::{}").format(sql.Literal(edge), kind) for edge in dict.fromkeys(found[0] or [] if found else [])
    ]
    between = [sql.SQL("{0} >= {1} AND {0} < {2}").format(value, low, high) for low, high in pairwise(edges)]
    if not edges:
        return [Part(sql.SQL("true"))]
    first, last = (
        sql.SQL(f"{{}} {sign} {{}}").format(value, edge) for sign, edge in (("<", edges[0]), (">=", edges[-1]))
    )
    empty = sql.SQL("{} IS NULL").format(value)
    return [Part(condition) for condition in (first, *between, last, empty)]
