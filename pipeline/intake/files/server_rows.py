"""Rows of a PostgreSQL database as a raw table: copied as text in batches, in one snapshot that cannot write."""

import hashlib
import json
from collections.abc import Generator
from contextlib import closing
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import psycopg
import pyarrow as pa
from psycopg import sql
from pyarrow import csv

from pipeline.clock import Counted, uncounted
from pipeline.databases import connected
from pipeline.errors import InputError, NoCoresError, NoRowsError
from pipeline.intake.files.frames import raw_table
from pipeline.intake.files.server_shapes import crs_of_shapes, shapes_of
from pipeline.intake.files.server_tables import Part, Relation, ServerColumn, parts_of, relation_of
from pipeline.intake.files.tables import RawTable
from pipeline.programme.input_files import Cores, Layer
from pipeline.programme.ranges import shortened

__all__ = ["read_database"]

_BATCH_BYTES: Final = 8_000_000
# everything else is text as the server writes it
_FLOATS: Final = {"float4": pa.float32(), "float8": pa.float64()}


def read_database(section: Layer, name: str, wanted: list[str] | None, tell: Counted | None = None) -> RawTable:
    """Return the rows of a table or query as a raw table, as the same data in a file would be read.

    Parameters
    ----------
    section
        Settings of the input, with the address of a database as its path.
    name
        Name of the section, for errors.
    wanted
        Columns to read; None reads all.
    tell
        Is told how many rows are read.

    Raises
    ------
    InputError
        The database cannot be reached, refuses, or has no such table, no rows, or shapes that cannot be used.
    SettingsError
        The key or the condition does not apply.
    """
    label = section.label(name)
    with connected(section.path, f"{name}.path", label=label) as connection:
        connection.isolation_level = psycopg.IsolationLevel.REPEATABLE_READ
        connection.read_only = True
        with connection.transaction():
            relation = relation_of(connection, section, name, label)
            return _read(connection, relation, section, name, label, wanted, tell or uncounted)


def _read(
    connection: "psycopg.Connection[Any]", relation: Relation, section: Layer, name: str, label: str,
    wanted: list[str] | None, tell: Counted,
) -> RawTable:  # fmt: skip
    """Read the rows of a relation."""
    columns, notices = _columns_to_read(relation, wanted, label)
    is_counted = section.sql is None or relation.key is not None
    total = _count(connection, relation) if is_counted else 0
    parts = parts_of(connection, relation, total) if total or not is_counted else []
    digest = hashlib.sha256(json.dumps([column.name for column in columns]).encode())
    batches, shapes, done = [], [], 0
    # what stops half-way ends the copy before the transaction
    with closing(_blocks(connection, relation, columns, parts)) as blocks:
        for block in blocks:
            digest.update(block)
            batch = _parsed(block, columns)
            done += batch.num_rows
            if columns[-1].is_shape:
                shapes.append(shapes_of(batch.column(len(columns) - 1), label, name))
                batch = batch.remove_column(len(columns) - 1)
            batches.append(batch)
            if total:
                tell(done, total, "rows")
    if not done:
        _refuse_empty(section, name, label, relation, digest.hexdigest())
    numbers = None if relation.number is None else np.concatenate([one.column(0).to_numpy() for one in batches])
    rows = np.arange(1, done + 1) if numbers is None else numbers.astype(np.int64)
    cells = pa.concat_tables([one if numbers is None else one.remove_column(0) for one in batches])
    # shapes may be all that there is
    frame = cells.to_pandas() if cells.num_columns else pd.DataFrame(index=pd.RangeIndex(done))
    frame.columns = [column.name for column in columns if not column.is_shape and column is not relation.number]
    geometry: npt.NDArray[np.object_] | None = None
    srid, declared = 0, None
    if shapes:
        geometry, srid, declared = crs_of_shapes(connection, np.concatenate(shapes), relation.postgis, label, notices)
    if relation.by_content and done > 1:
        notices.append(
            f"{label}: has no primary key, so that its rows are taken in the order of their content. Name the column "
            f"that tells rows apart in {name}.key."
        )
    table = raw_table(frame, rows, relation.rows_in_all or done, label, declared, notices)
    table.origin = "table" if section.sql is None else "query"
    table.geometry, table.srid, table.sha256 = geometry, srid, digest.hexdigest()
    table.fields = [one.name for one in relation.columns if not one.is_shape and not one.is_bytes]
    return table


def _columns_to_read(relation: Relation, wanted: list[str] | None, label: str) -> tuple[list[ServerColumn], list[str]]:
    """Return the columns that are read, the number of the row first and the shapes last, and what is left out."""
    shapes = [column for column in relation.columns if column.is_shape]
    if len(shapes) > 1:
        raise InputError(
            f"{label}: {len(shapes)} columns of shapes ({', '.join(one.name for one in shapes)}), expected one. Name "
            "the columns to read in `sql`."
        )
    cells = [column for column in relation.columns if not column.is_shape and not column.is_bytes]
    asked = None if wanted is None else {name.strip().casefold() for name in wanted}
    # shapes alone suffice, but a row has to have something
    read = [one for one in cells if asked is None or one.name.strip().casefold() in asked or not shapes]
    notices = [
        f"{label}: column {one.name!r} holds bytes ({one.kind}) and is not read."
        for one in relation.columns
        if one.is_bytes and asked is None
    ]
    number = [] if relation.number is None else [relation.number]
    if not (read or shapes):
        raise InputError(f"{label}: no column that can be read as text or as shapes. Name others.")
    return [*number, *read, *shapes], notices


def _count(connection: "psycopg.Connection[Any]", relation: Relation) -> int:
    found = connection.execute(sql.SQL("SELECT count(*) FROM {}").format(relation.rows)).fetchone()
    return int(found[0]) if found else 0


def _refuse_empty(section: Layer, name: str, label: str, relation: Relation, sha256: str) -> None:
    """Stop where a table, a query or the condition on it gives no rows."""
    setting = f"{name}.sql" if section.sql is not None else f"{name}.table"
    what = f"the {'query' if section.sql is not None else 'table'} has no rows"
    if relation.rows_in_all:
        what, setting = (
            f"{name}.where = {shortened(section.where)} selects none of its {relation.rows_in_all:,} rows",
            f"{name}.where",
        )
    if isinstance(section, Cores):
        raise NoCoresError(label, what, f"Correct {setting}.")
    remedy = "." if name == "roads" else f", or remove [{name}]."
    text = f"{label}: {what}. Correct {setting}{remedy}"
    raise InputError(text) if relation.rows_in_all else NoRowsError(text, sha256)


def _blocks(
    connection: "psycopg.Connection[Any]", relation: Relation, columns: list[ServerColumn], parts: list[Part]
) -> Generator[bytes]:
    """Yield the rows as CSV, in blocks of whole rows."""
    cells = sql.SQL(", ").join(map(_cell, columns))
    for part in parts:
        query = sql.SQL("COPY (SELECT {} FROM {} WHERE {} ORDER BY {}) TO STDOUT (FORMAT csv)").format(
            cells, relation.rows, part.condition, relation.order
        )
        kept: list[bytes] = []
        size = 0
        with connection.cursor() as cursor, cursor.copy(query) as copy:
            # the server sends each row by itself
            for row in copy:
                kept.append(bytes(row))
                size += len(kept[-1])
                if size >= _BATCH_BYTES:
                    yield b"".join(kept)
                    kept, size = [], 0
        if kept:
            yield b"".join(kept)


def _cell(column: ServerColumn) -> sql.Composable:
    """Return a column as a file would have it: what is not a number is missing, and an instant has its offset."""
    value = column.alias
    match column.kind:
        case "bool":
            return sql.SQL("CASE {} WHEN true THEN 'True' WHEN false THEN 'False' END").format(value)
        case "float4" | "float8" | "numeric":
            return sql.SQL("NULLIF({}, 'NaN')").format(value)
        case "timestamptz":
            return sql.SQL("CASE WHEN isfinite({0}) THEN {0}::text || ':00' ELSE {0}::text END").format(value)
        case _:
            return value


def _parsed(block: bytes, columns: list[ServerColumn]) -> pa.Table:
    """Return a block of rows as columns; an empty text is missing, as in any table."""
    names = [str(number) for number in range(len(columns))]
    kinds = [_FLOATS.get(column.kind, pa.large_string()) for column in columns]
    return csv.read_csv(
        pa.BufferReader(block),
        # a row may be as long as the block
        read_options=csv.ReadOptions(column_names=names, block_size=len(block) + 1),
        parse_options=csv.ParseOptions(newlines_in_values=True, ignore_empty_lines=False),
        convert_options=csv.ConvertOptions(
            column_types=dict(zip(names, kinds, strict=True)),
            null_values=[""],
            strings_can_be_null=True,
        ),
    )
