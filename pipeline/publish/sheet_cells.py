"""The cells of a table for a sheet of a workbook: each different text or number once, and which cells have it."""

import textwrap
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
from pyarrow import compute as pc

__all__ = ["Cells", "cells_of", "lines_of", "wrapped_lines"]

# a cell takes so many UTF-16 units, of two bytes each
_LONGEST: Final = 32_767
Codes = npt.NDArray[np.int32]


@dataclass(frozen=True)
class Cells:
    """The cells of one column of N rows, each with a text, a number or nothing.

    ``text_codes``, ``number_codes``: of each cell its place in ``texts`` and in ``numbers``, -1 for none. ``texts``, in
    the order in which they first come, are not cut; ``numbers`` are as a sheet writes them. ``longest_figure``: the
    longest number as it is shown, 0 for a column with texts. ``is_number``: of numbers alone. ``is_float``: shown with
    a decimal place.
    """

    heading: str
    text_codes: Codes
    texts: list[str]
    number_codes: Codes
    numbers: list[str]
    longest_figure: int
    is_number: bool
    is_float: bool

    @property
    def cut_texts(self) -> list[str]:
        """The texts, each cut to what a cell takes."""
        return [text if len(text) <= _LONGEST // 2 else _cut(text) for text in self.texts]

    @property
    def longest_text(self) -> int:
        """The characters of the longest text."""
        return max(map(len, self.texts), default=0)

    @property
    def longest_word(self) -> int:
        """The characters of the longest word of any text."""
        words = pc.split_pattern(pa.array(self.texts, pa.large_string()), " ").flatten()
        return pc.max(pc.utf8_length(words)).as_py() or 0

    @property
    def has_cell(self) -> npt.NDArray[np.bool_]:
        """Which of the rows have a text or a number."""
        return (self.text_codes >= 0) | (self.number_codes >= 0)


def cells_of(column: pd.Series) -> Cells:
    """Return the cells of a column; in a column of any objects, texts are told from numbers cell by cell."""
    text_codes: Any = np.full(len(column), -1, dtype=np.int32)
    number_codes: Any = text_codes
    different: Any = ()
    figures: Any = np.zeros(0)
    if pd.api.types.is_object_dtype(column.dtype):
        is_text = np.fromiter((isinstance(cell, str) for cell in column), bool, len(column))
        texts = pd.Series(column.where(is_text).to_numpy(), dtype="str")
        numbers = column.mask(is_text)
        number_codes, figures = pd.factorize(numbers)
        text_codes, different = pd.factorize(texts)
    elif pd.api.types.is_numeric_dtype(column.dtype):
        number_codes, figures = _numbers(column)
    else:
        text_codes, different = pd.factorize(column)
    longest = 0
    if not len(different) and len(figures):
        longest = len(f"{np.abs(np.asarray(figures, dtype=float)).max():,.1f}")
    return Cells(
        str(column.name),
        np.asarray(text_codes, dtype=np.int32),
        [str(text) for text in different],
        np.asarray(number_codes, dtype=np.int32),
        [f"{figure:.16G}" for figure in figures.tolist()],
        longest,
        pd.api.types.is_numeric_dtype(column.dtype),
        pd.api.types.is_float_dtype(column.dtype),
    )


def _numbers(column: pd.Series) -> tuple[Any, Any]:
    if column.dtype != np.float64:
        return pd.factorize(column)
    # zero and minus zero are equal, and written differently
    values = column.to_numpy()
    known = ~np.isnan(values)
    codes, bits = pd.factorize(values[known].view(np.int64))
    places = np.full(len(values), -1, dtype=np.int32)
    places[known] = codes
    return places, bits.view(np.float64)


def _cut(text: str) -> str:
    """Return as much of a text as a cell takes; a character of two units is not split."""
    return text.encode("utf-16-le", "surrogatepass")[: 2 * _LONGEST].decode("utf-16-le", "ignore")


def lines_of(cells: Iterable[Cells], widths: Iterable[float], rows: int) -> npt.NDArray[np.int32]:
    """Return the lines that each of N rows takes: those of the text that takes the most of its column."""
    most = np.ones(rows, dtype=np.int32)
    for one, width in zip(cells, widths, strict=True):
        room = _room(width)
        texts = pa.array(one.texts, pa.large_string())
        # a tab is as wide as several characters
        wide = pc.or_(pc.greater(pc.utf8_length(texts), room), pc.match_substring(texts, "\t"))
        long = np.flatnonzero(wide.to_numpy(zero_copy_only=False))
        if len(long):
            # a cell without a text has the place after the last one
            lines = np.ones(len(one.texts) + 1, dtype=np.int32)
            lines[long] = [_wrapped(one.texts[at], room) for at in long]
            most = np.maximum(most, lines[one.text_codes])
    return most


def wrapped_lines(text: str, width: float) -> int:
    """Return the lines that a text takes in a column so many characters wide."""
    return _wrapped(text, _room(width))


def _room(width: float) -> int:
    return max(int(width), 1)


@lru_cache(maxsize=10_000)
def _wrapped(text: str, room: int) -> int:
    return max(len(textwrap.wrap(text, room)), 1)
