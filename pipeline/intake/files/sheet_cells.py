"""Cells of a workbook as people would write them, a whole column at a time."""

import datetime as dt
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

__all__ = ["as_texts", "written_cell"]

_NUMBERS: Final = frozenset({int, float})
# from here on whole numbers would be written with an exponent
_LARGE: Final = 1e10


def as_texts(cells: Sequence[Any]) -> tuple[pa.Array, npt.NDArray[np.bool_]]:
    """Return a column of cells as texts, and whether the workbook stores each as a number.

    A workbook keeps every number as a float: whole ones lose their ``.0``. Dates are written as ISO text, durations as
    hours, minutes and seconds. A blank cell is missing.

    Parameters
    ----------
    cells
        N values of the types that calamine gives: text, number, truth, date, date with time, time, duration.
    """
    kinds = set(map(type, cells))
    if kinds == {float}:
        stored = np.ones(len(cells), dtype=np.bool_)
        # adding zero takes the sign off a zero
        numbers = np.fromiter(cells, np.float64, len(cells)) + 0.0
        if np.abs(numbers).max() < _LARGE:
            return pa.array(numbers).cast(pa.string()), stored
    elif _NUMBERS.isdisjoint(kinds):
        stored = np.zeros(len(cells), dtype=np.bool_)
    else:
        stored = np.fromiter((type(cell) in _NUMBERS for cell in cells), np.bool_, len(cells))
    if kinds <= {str}:
        texts = pa.array(cells, pa.string())
    elif bool in kinds and len(kinds) > 1:
        # True, 1 and 1.0 are equal to Python, but not to people
        texts = pa.array(list(map(written_cell, cells)), pa.string())
    else:
        texts_of = {cell: written_cell(cell) for cell in set(cells)}
        texts = pa.array(list(map(texts_of.__getitem__, cells)), pa.string())
    if str in kinds:
        is_blank = pc.equal(texts, "")
        if pc.any(is_blank).as_py():
            texts = pc.if_else(is_blank, None, texts)
    return texts, stored


def written_cell(cell: object) -> str:
    """Return one cell as people would write it: a text, with whole numbers without their ``.0``."""
    if isinstance(cell, float) and cell.is_integer():
        return repr(int(cell))
    if isinstance(cell, dt.timedelta):
        seconds = round(cell.total_seconds())
        sign, seconds = ("-" if seconds < 0 else ""), abs(seconds)
        return f"{sign}{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"
    return str(cell)
