"""The tables of a pack read back, with the kind of each column: what the pack's map and GeoPackage are drawn from."""

import csv
import io
from collections import Counter
from pathlib import Path
from typing import Final

import pandas as pd
import pyarrow as pa
from pyarrow import csv as arrow_csv

from pipeline.errors import InputError
from pipeline.readback.pack_files import MOST_COLUMNS, PACK_FILES
from pipeline.spreadsheet_text import as_written
from pipeline.wording import plain_reason

__all__ = ["read_table", "read_typed"]

# days and instants are handed over as ISO text
_TYPES: Final = {"number": pa.float64(), "integer": pa.int64(), "boolean": pa.bool_()}
# characters of a header, and bytes of a block in which Arrow reads a table: a row lies in two of them at most
_MOST_OF_ROW: Final = 1 << 20
_WHAT_TO_DO: Final = "Ask the sender for the pack again."


def read_typed(file: Path) -> pd.DataFrame:
    """Return a table of a pack, its numbers as numbers and all else as text; an empty cell is missing.

    Parameters
    ----------
    file
        A key of ``PACK_FILES``, in the folder of the pack.

    Raises
    ------
    InputError
        It is not a readable CSV table, has more columns than any pack or one of them twice, or has a cell of the wrong
        kind.
    """
    columns = PACK_FILES[file.name].columns
    try:
        heads = _heads(file)
        names = as_written(pd.Series(heads, dtype="str")).tolist()
        kinds = [_TYPES.get(columns[name].kind, pa.string()) if name in columns else pa.string() for name in names]
        table = arrow_csv.read_csv(
            file,
            read_options=arrow_csv.ReadOptions(block_size=_MOST_OF_ROW),
            parse_options=arrow_csv.ParseOptions(newlines_in_values=True),
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict(zip(heads, kinds, strict=True)),
                null_values=[""],
                strings_can_be_null=True,
                quoted_strings_can_be_null=False,
            ),
        )
    except (OSError, ValueError, csv.Error, pa.ArrowException) as error:
        raise InputError(f"{file}: not a readable table ({plain_reason(error)}). {_WHAT_TO_DO}") from error
    _refuse_twice(file, names)
    cells = {name: _as_series(column) for name, column in zip(names, table.columns, strict=True)}
    return pd.DataFrame(cells, columns=pd.Index(names, dtype="str"))


def read_table(file: Path) -> pd.DataFrame:
    """Return any CSV file that ``write_csv`` wrote, every cell as text, empty where it is missing.

    Raises
    ------
    InputError
        It is not a readable CSV table, or has more columns than any pack or one of them twice.
    """
    try:
        heads = _heads(file)
        names = as_written(pd.Series(heads, dtype="str")).tolist()
        _refuse_twice(file, names)
        # without types stated, they would be guessed from the first rows
        table: pd.DataFrame = arrow_csv.read_csv(
            file,
            read_options=arrow_csv.ReadOptions(block_size=_MOST_OF_ROW),
            parse_options=arrow_csv.ParseOptions(newlines_in_values=True),
            convert_options=arrow_csv.ConvertOptions(column_types=dict.fromkeys(heads, pa.string())),
        ).to_pandas()
    except (OSError, ValueError, csv.Error, pa.ArrowException) as error:
        raise InputError(f"{file}: not a readable table ({plain_reason(error)}). {_WHAT_TO_DO}") from error
    table.columns = names
    return table.astype("str").fillna("").apply(as_written)


def _heads(file: Path) -> list[str]:
    """Return the names of the columns as they are written; more than any pack has are refused before a cell is read."""
    with file.open(encoding="utf-8", newline="") as source:
        heads = next(csv.reader(io.StringIO(source.read(_MOST_OF_ROW), newline="")), [])
    if len(heads) > MOST_COLUMNS:
        raise InputError(f"{file}: {len(heads):,} columns or more, expected at most {MOST_COLUMNS:,}. {_WHAT_TO_DO}")
    return heads


def _refuse_twice(file: Path, names: list[str]) -> None:
    twice = sorted(name for name, count in Counter(names).items() if count > 1)
    if twice:
        raise InputError(f"{file}: column {twice[0]!r} is there twice, expected each column once. {_WHAT_TO_DO}")


def _as_series(column: pa.ChunkedArray) -> pd.Series:
    if pa.types.is_string(column.type):
        return as_written(pd.Series(column.to_pandas(), dtype="str"))
    if pa.types.is_int64(column.type) and column.null_count:
        return pd.Series(column.to_pandas(types_mapper={pa.int64(): pd.Int64Dtype()}.get))
    return pd.Series(column.to_pandas())
