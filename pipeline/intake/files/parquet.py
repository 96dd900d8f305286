"""Parquet files, with or without geometry, alone or as the parts of one table."""

from collections.abc import Collection
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow as pa
from pyarrow import parquet
from shapely.errors import ShapelyError

from pipeline.contracts.arrow_texts import as_column, texts_of
from pipeline.errors import InputError, NoRowsError
from pipeline.intake.files.frames import WHOLE_NUMBERS, first_sentence, raw_table
from pipeline.intake.files.geoparquet import refuse_unusable_shapes
from pipeline.intake.files.header_rows import ANY_TABLE, Wanted
from pipeline.intake.files.parquet_parts import folder_columns, parquet_parts, part_name
from pipeline.intake.files.tables import RawTable
from pipeline.programme.ranges import shortened

__all__ = ["read_parquet", "read_parquet_parts"]

# metadata is free text: what it says may be of any kind
_UNREADABLE: Final = (
    pa.ArrowException, OSError, ValueError, RuntimeError, TypeError, LookupError, AttributeError, ShapelyError,
)  # fmt: skip
# kinds of columns that are written alike: one part may have whole numbers where another has a missing one
_KINDS: Final = (
    ("numbers", (pa.types.is_integer, pa.types.is_floating, pa.types.is_decimal)),
    ("text", (pa.types.is_string, pa.types.is_large_string, pa.types.is_string_view)),
    ("truths", (pa.types.is_boolean,)),
    ("days", (pa.types.is_date,)),
    ("instants", (pa.types.is_timestamp,)),
)
# beside the columns: whether a part has shapes
_SHAPES: Final = "geometry "


def read_parquet(path: Path, label: str, wanted: Wanted = ANY_TABLE) -> RawTable:
    """Return what a Parquet file holds.

    ``wanted``: what a register is searched for; a column that is none of it may hold bytes that are no text.

    Raises
    ------
    InputError
        The file cannot be read, or is empty.
    """
    table = _read(path, label, wanted)
    if not len(table.frame.index):
        raise NoRowsError(f"{label}: the file has no rows. Export it again, with the data.")
    return table


def read_parquet_parts(folder: Path, label: str) -> RawTable:
    """Return what the Parquet files of a folder hold together: their rows in the order of the files' names.

    Each part has the same columns, in any order, and the same CRS. A folder named ``key=value`` adds a column.

    Raises
    ------
    InputError
        There is no part or no row, a part cannot be read, or it has other columns, kinds of them or another CRS.
    """
    parts = parquet_parts(folder, label)
    first: tuple[str, dict[str, str]] | None = None
    tables: list[RawTable] = []
    for part in parts:
        name = part_name(label, folder, part)
        table, kinds = _part(folder, part, name)
        if not len(table.frame.index):
            continue
        if first is None:
            first = name, kinds
        _refuse_other_columns(kinds, name, *first)
        first = first[0], {column: kinds[column] if kind == "" else kind for column, kind in first[1].items()}
        if tables and table.crs != tables[0].crs:
            raise InputError(
                f"{name}: its CRS is {_crs_name(table)}, expected that of {tables[0].label}, {_crs_name(tables[0])}. "
                "Export all parts in one CRS."
            )
        tables.append(table)
    if not tables:
        raise NoRowsError(f"{label}: its {len(parts):,} Parquet files have no rows. Export them again, with the data.")
    return _joined(tables, label)


def _joined(tables: list[RawTable], label: str) -> RawTable:
    """Return parts one below the other, with the columns in the order of the first."""
    columns = list(tables[0].frame)
    pieces = pd.concat([table.frame[columns] for table in tables], ignore_index=True)
    # in one piece each: GDAL commits by pieces, and would write other bytes than for the same rows in one file
    frame = pd.DataFrame({name: as_column(texts_of(pieces[name]), pieces.index) for name in pieces}, pieces.index)
    shapes = [table.geometry for table in tables if table.geometry is not None]
    notices = dict.fromkeys(notice for table in tables for notice in table.notices)
    return RawTable(
        frame,
        np.arange(1, len(frame) + 1),
        len(frame),
        label,
        np.concatenate(shapes) if shapes else None,
        tables[0].crs,
        notices=list(notices),
    )


def _read(path: Path, label: str, wanted: Wanted = ANY_TABLE) -> RawTable:
    """Return what a file holds, which may be no rows."""
    notices: list[str] = []
    try:
        schema = parquet.read_schema(path)
        metadata = schema.metadata or {}
        if b"geo" in metadata:
            refuse_unusable_shapes(path, schema, label)
        kept: dict[str, Any] = {"types_mapper": WHOLE_NUMBERS.get}
        # the folders that a file lies in say nothing of it
        if b"geo" in metadata:
            frame: pd.DataFrame = gpd.read_parquet(path, partitioning=None, to_pandas_kwargs=kept)
        else:
            try:
                frame = parquet.read_table(path, use_pandas_metadata=True, partitioning=None).to_pandas(**kept)
            except _UNREADABLE:
                frame = _column_by_column(path, label, notices)
        # an index with a name is a column
        frame = frame.reset_index(drop=all(name is None for name in frame.index.names))
        declared = frame.crs if isinstance(frame, gpd.GeoDataFrame) else None
    except _UNREADABLE as error:
        raise InputError(f"{label}: cannot be read as Parquet ({first_sentence(error)}). Export it again.") from error
    if wanted.needed:
        named = {name.casefold() for names in (*wanted.needed, wanted.known) for name in names}
        _show_bytes(frame, label, named, notices)
    return raw_table(frame, np.arange(1, len(frame) + 1), len(frame), label, declared, notices)


def _column_by_column(path: Path, label: str, notices: list[str]) -> pd.DataFrame:
    """Return a table whose columns are not what pandas noted of them, or are of a time zone that nobody knows.

    Raises
    ------
    InputError
        A column cannot be used; the error names it.
    """
    # the note of pandas is left aside, and a name that comes twice is kept
    table = parquet.ParquetFile(path).read().replace_schema_metadata(None)
    columns = []
    for field, cells in zip(table.schema, table.columns, strict=True):
        try:
            columns.append(cells.to_pandas(types_mapper=WHOLE_NUMBERS.get))
        except _UNREADABLE as error:
            if not pa.types.is_timestamp(field.type):
                raise InputError(
                    f"{label}: column {shortened(field.name)} ({shortened(str(field.type))}) cannot be read "
                    f"({first_sentence(error)}). Export it as text, or leave it out."
                ) from error
            notices.append(
                f"{label}: column {shortened(field.name)} is in the time zone {shortened(field.type.tz)}, which is not "
                "known; its times are read as UTC. Check them."
            )
            columns.append(cells.cast(pa.timestamp(field.type.unit, "UTC")).to_pandas())
    whole: pd.DataFrame = pd.concat(columns, axis="columns")
    return whole.set_axis(table.schema.names, axis="columns")


def _show_bytes(frame: pd.DataFrame, label: str, named: Collection[str], notices: list[str]) -> None:
    """Write columns of bytes that nothing reads, such as shapes beside two columns of coordinates, as digits."""
    for at, name in enumerate(map(str, frame.columns)):
        cells = frame.iloc[:, at]
        if name.casefold() in named or cells.dtype != object:
            continue
        try:
            cells.map(lambda cell: isinstance(cell, bytes) and cell.decode())
        except UnicodeDecodeError:
            shown = cells.map(lambda cell: cell.hex() if isinstance(cell, bytes) else cell)
            frame.isetitem(at, shown.array)
            notices.append(
                f"{label}: column {shortened(name)} holds bytes, not text; it is kept as hexadecimal digits."
            )


def _part(folder: Path, part: Path, name: str) -> tuple[RawTable, dict[str, str]]:
    """Return a part with the columns of its folders, and the kind of each column; that of empty ones is empty."""
    table = _read(part, name)
    schema = parquet.read_schema(part)
    kinds = {str(column): _kind_of(schema, str(column)) for column in table.frame}
    kinds[_SHAPES] = "no geometry" if table.geometry is None else "geometry"
    for column, value in folder_columns(folder, part).items():
        if column in table.frame:
            raise InputError(
                f"{name}: has a column {column!r}, which the name of its folder gives too; expected it once. Rename "
                "the folder, or leave the column out."
            )
        table.frame[column] = pd.Series([value] * len(table.frame), table.frame.index, dtype="str")
        kinds[column] = "text"
    return table, kinds


def _kind_of(schema: pa.Schema, name: str) -> str:
    """Return the kind of a column by its type, empty if all of it is missing; a renamed one may be of any."""
    at = schema.get_field_index(name)
    kind = pa.null() if at < 0 else schema.field(at).type
    if pa.types.is_dictionary(kind):
        kind = kind.value_type
    if pa.types.is_null(kind):
        return ""
    return next((called for called, tests in _KINDS if any(test(kind) for test in tests)), str(kind))


def _refuse_other_columns(kinds: dict[str, str], name: str, first: str, expected: dict[str, str]) -> None:
    """Stop where a part has other columns than the first, or others of them."""
    for here, there, part, other in ((expected, kinds, name, first), (kinds, expected, first, name)):
        if lost := [column for column in here if column not in there]:
            raise InputError(
                f"{part}: no column {lost[0]!r}, which {other} has; expected the same columns in every part. Export "
                "all parts alike."
            )
    for column, kind in kinds.items():
        if kind and expected[column] and kind != expected[column]:
            what = "the part" if column == _SHAPES else f"column {column!r}"
            raise InputError(
                f"{name}: {what} has {kind}, expected {expected[column]} as in {first}. Export all parts alike."
            )


def _crs_name(table: RawTable) -> str:
    return "none" if table.crs is None else table.crs.name
