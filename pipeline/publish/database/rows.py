"""Tables as PostgreSQL's COPY reads them: whole columns as text, and no statement per row."""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Final

import numpy as np
import pandas as pd
import pyarrow as pa
import shapely
from pyarrow import compute as pc

from pipeline.clock import Counted, in_parts
from pipeline.contracts.arrow_texts import joined, texts_of
from pipeline.publish.database.tables import SRID

__all__ = ["Columns", "copied", "json_objects", "points", "storable"]

Columns = Callable[[slice], Mapping[str, pd.Series | pa.Array]]
# rows that are sent at a time
_ROWS_AT_ONCE: Final = 16_384
_TEXT: Final = pa.large_string()
# PostgreSQL has no room for this character in a text
_NUL: Final = "\0"
_IN_ITS_PLACE: Final = "\N{REPLACEMENT CHARACTER}"
_NULL: Final = r"\N"
# what ends a cell or a row of COPY, or begins one of these signs
_SIGNS: Final = {"\\": r"\\", "\t": r"\t", "\n": r"\n", "\r": r"\r"}
# RFC 8259, section 7
_IN_JSON: Final = {"\\": r"\\", '"': r"\""} | {chr(code): f"\\u{code:04x}" for code in range(1, 32)}


def storable(text: str) -> str:
    """Return a text as the database can hold it: with a replacement character for each NUL."""
    return text.replace(_NUL, _IN_ITS_PLACE)


def copied(columns: Columns, rows: int, tell: Counted) -> Iterator[bytes]:
    """Yield so many rows as COPY reads them in its text format.

    Parameters
    ----------
    columns
        Gives the columns of a part of the rows, at least one: texts, numbers, truths, days, or instants. Missing cells
        become null, which an empty text is not. What a part takes is given back before the next.
    rows
        Their number.
    tell
        Is told the rows written.
    """
    for part in in_parts(rows, _ROWS_AT_ONCE, tell, "rows"):
        cells = [_replaced(_texts(column), _SIGNS) for column in columns(part).values()]
        lines = pc.binary_join_element_wise(
            *cells, pa.scalar("\t", _TEXT), null_handling="replace", null_replacement=_NULL
        )
        ended = joined([lines, "\n"], len(lines))
        # the texts lie one behind the other
        yield ended.buffers()[2].to_pybytes()[: int(pc.sum(pc.binary_length(ended)).as_py())]


def json_objects(columns: Mapping[str, pd.Series], rows: int) -> pa.Array:
    """Return N JSON objects: each of the texts under the name of its column, null where it is missing."""
    parts: list[str | pa.Array] = []
    for name, column in columns.items():
        texts = _replaced(_texts(column), _IN_JSON)
        parts.append(f"{', ' if parts else '{'}{json.dumps(storable(name))}: ")
        quoted = pc.binary_join_element_wise(pa.scalar('"', _TEXT), texts, pa.scalar('"', _TEXT), pa.scalar("", _TEXT))
        parts.append(pc.fill_null(quoted, "null"))
    return joined([*parts, "}"] if parts else ["{}"], rows)


def points(lon: pd.Series, lat: pd.Series) -> pd.Series:
    """Return N positions, in degrees of WGS 84, as PostGIS reads them; missing where either is."""
    shapes = shapely.points(lon.to_numpy(float, na_value=np.nan), lat.to_numpy(float, na_value=np.nan))
    shapes[(lon.isna() | lat.isna()).to_numpy()] = None
    written = shapely.to_wkb(shapely.set_srid(shapes, SRID), hex=True, include_srid=True)
    return pd.Series(written, lon.index, dtype="str")


def _texts(column: pd.Series | pa.Array) -> pa.Array:
    """Return N cells as texts that the database can hold."""
    if isinstance(column, pd.Series):
        is_text = pd.api.types.is_string_dtype(column.dtype) or isinstance(column.dtype, pd.CategoricalDtype)
        column = texts_of(column) if is_text else pa.array(column, from_pandas=True)
    cells = column.combine_chunks() if isinstance(column, pa.ChunkedArray) else column
    is_day = pa.types.is_timestamp(cells.type) and cells.type.tz is None
    texts = pc.cast(pc.cast(cells, pa.date32()) if is_day else cells, _TEXT)
    return _replaced(texts, {_NUL: _IN_ITS_PLACE})


def _replaced(texts: pa.Array, by: Mapping[str, str]) -> pa.Array:
    """Return texts with some characters replaced; the first of them must be the one that the others are made with."""
    found = pc.match_substring_regex(texts, _any_of([*by]))
    if not pc.any(found).as_py():
        return texts
    for character, other in by.items():
        texts = pc.replace_substring(texts, character, other)
    return texts


def _any_of(characters: Sequence[str]) -> str:
    return "[" + "".join(f"\\x{{{ord(character):x}}}" for character in characters) + "]"
