"""Whole columns of text as Arrow holds them: one block of bytes per column, and no object per cell."""

from collections.abc import Callable, Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
from pyarrow import compute as pc

__all__ = ["as_column", "days_written", "each_once", "joined", "placed", "taken", "texts_of"]

_TEXT: Final = pa.large_string()
Places = npt.NDArray[np.intp]


def texts_of(column: pd.Series) -> pa.Array:
    """Return N cells as texts, null where there is none."""
    texts = pa.array(column.astype("str").array, _TEXT)
    return texts.combine_chunks() if isinstance(texts, pa.ChunkedArray) else texts


def as_column(texts: pa.Array, index: pd.Index) -> pd.Series:
    """Return N texts as a column on an index."""
    return pd.Series(texts, index, dtype="str")


def taken(texts: pa.Array, places: Places) -> pa.Array:
    """Return the texts at N places; null at a place below 0."""
    below = places < 0
    return texts.take(pa.array(places, mask=below) if below.any() else pa.array(places))


def each_once(column: pd.Series, write: Callable[[Any], str | None], missing: str | None) -> pa.Array:
    """Return each of N values written, and ``missing`` where there is none; the same value is written once."""
    codes, different = pd.factorize(column)
    return taken(pa.array([*map(write, different), missing], _TEXT), np.where(codes < 0, len(different), codes))


def days_written(column: pd.Series, write: Callable[[str], str | None], missing: str | None) -> pa.Array:
    """Return the days of N instants written from their ISO texts; the same instant is written once."""
    codes, different = pd.factorize(column)
    days = pd.Series(different).dt.strftime("%Y-%m-%d")
    return taken(pa.array([*map(write, days), missing], _TEXT), np.where(codes < 0, len(different), codes))


def joined(parts: Sequence[str | pa.Array], rows: int) -> pa.Array:
    """Return N texts, each its parts side by side; a part is one text for all or N, and null where any part is."""
    cells = [pa.scalar(part, _TEXT) if isinstance(part, str) else part for part in parts]
    if all(isinstance(part, str) for part in parts):
        return pa.repeat(pa.scalar("".join(map(str, parts)), _TEXT), rows)
    return pc.binary_join_element_wise(*cells, pa.scalar("", _TEXT))


def placed(parts: Sequence[tuple[Places, pa.Array]], rows: int, otherwise: str | None = "") -> pa.Array:
    """Return N texts put together from parts, each with the places of its texts; ``otherwise`` in every other place."""
    order = np.full(rows, -1, dtype=np.intp)
    start = 0
    for places, texts in parts:
        order[places] = np.arange(start, start + len(texts))
        start += len(texts)
    every = pa.concat_arrays([texts for _, texts in parts]) if parts else pa.array([], _TEXT)
    found = taken(every, order)
    return found if otherwise is None or not (order < 0).any() else _filled(found, order < 0, otherwise)


def _filled(texts: pa.Array, where: npt.NDArray[np.bool_], text: str) -> pa.Array:
    return pc.if_else(pa.array(where), pa.scalar(text, _TEXT), texts)
