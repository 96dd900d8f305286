"""Whole columns of text as our CSV files hold them: nothing in them runs in a spreadsheet."""

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
from pyarrow import compute as pc

from pipeline.spreadsheet_text import FORMULA, PART, PLAIN_NUMBER, SEPARATORS, guarded

__all__ = ["header_cells", "without_formulas"]

_BYTES: Final = np.arange(256)
# by byte, whether a formula or an apostrophe before it may begin with it; the full-width forms begin with the last
_BEGINS: Final = np.isin(_BYTES, [*b"'=+-@\t\r\n", 0xEF])
# by byte, whether it parts cells for some program, and whether it may follow before the part runs
_SEPARATES: Final = np.isin(_BYTES, [*SEPARATORS.encode()])
_FOLLOWS: Final = np.isin(_BYTES, [*b"'\" =+-@", 0xC2, 0xEF])

_Places = npt.NDArray[np.int64]


def header_cells(names: Sequence[str]) -> list[str]:
    """Return the names of columns as they are written into the first line."""
    cells: list[str] = without_formulas(pa.array(list(names), pa.string())).to_pylist()
    return cells


def without_formulas(column: pa.ChunkedArray | pa.Array) -> pa.ChunkedArray | pa.Array:
    """Return a column with an apostrophe wherever ``guarded`` has one; a column of anything but text as it is."""
    if pa.types.is_dictionary(column.type):
        column = pc.cast(column, column.type.value_type)
    if not (pa.types.is_string(column.type) or pa.types.is_large_string(column.type)):
        return column
    texts = column.combine_chunks() if isinstance(column, pa.ChunkedArray) else column
    begin, part = _may_run(texts)
    here = np.union1d(_matching(texts, begin, FORMULA, PLAIN_NUMBER), _matching(texts, part, PART))
    if not len(here):
        return column
    few = pa.array([guarded(text) for text in texts.take(pa.array(here)).to_pylist()], column.type)
    which = np.zeros(len(texts), dtype=bool)
    which[here] = True
    return pc.replace_with_mask(texts, pa.array(which), few)


def _matching(
    texts: pa.Array, at: npt.NDArray[np.int64], wanted: str, barred: str | None = None
) -> npt.NDArray[np.int64]:
    """Return which of some places hold a text that one pattern is found in and another is not."""
    if not len(at):
        return at
    few = texts.take(pa.array(at))
    found = pc.match_substring_regex(few, wanted)
    if barred is not None:
        found = pc.and_(found, pc.invert(pc.match_substring_regex(few, barred)))
    matching: _Places = at[pc.fill_null(found, fill_value=False).to_numpy(zero_copy_only=False)]
    return matching


def _may_run(texts: pa.Array) -> tuple[_Places, _Places]:
    """Return which of N texts begin as a formula may, and which have a part that does, from their bytes.

    A pattern would take long to try on every cell.
    """
    nothing = np.zeros(0, dtype=np.int64)
    _, ends, letters = texts.buffers()
    if letters is None or not letters.size:
        return nothing, nothing
    kind = "int64" if pa.types.is_large_string(texts.type) else "int32"
    at: npt.NDArray[np.integer] = np.frombuffer(ends, kind)[texts.offset : texts.offset + len(texts) + 1]
    held = np.frombuffer(letters, np.uint8)
    begins = _BEGINS[held[np.minimum(at[:-1], letters.size - 1)]] & (np.diff(at) > 0)
    own = held[at[0] : at[-1]]
    parted = np.flatnonzero(_SEPARATES[own[:-1]] & _FOLLOWS[own[1:]])
    return np.flatnonzero(begins), np.unique(np.searchsorted(at, parted + at[0], side="right") - 1)
