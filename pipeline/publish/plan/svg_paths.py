"""The paths of many lines as SVG has them: the shortest text there is, in tenths of a unit."""

from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely

__all__ = ["svg_paths"]

_PER_UNIT: Final = 10


def svg_paths(lines: npt.NDArray[np.object_]) -> list[str]:
    """Return the path of each of N lines: its first point, then each point relative to the one before it."""
    xy, line_of = shapely.get_coordinates(lines, return_index=True)
    if not len(xy):
        return [""] * len(lines)
    whole = np.round(xy, 1)
    is_first = np.diff(line_of, prepend=-1) > 0
    steps = np.where(is_first[:, np.newaxis], whole, np.diff(whole, axis=0, prepend=0.0))
    kept = is_first | (np.abs(steps).sum(axis=1) > 0)
    texts = _numbers(steps[kept])
    letters = np.where(is_first[kept], "M", "l").tolist()
    moves = [f"{letter}{x} {y}" for letter, x, y in zip(letters, *texts, strict=True)]
    ends = np.searchsorted(line_of[kept], np.arange(len(lines) + 1)).tolist()
    return ["".join(moves[begin:end]) for begin, end in pairwise(ends)]


def _numbers(values: npt.NDArray[np.float64]) -> list[list[str]]:
    """Return the columns of numbers in tenths as texts; the same number is written once."""
    tenths = np.rint(values * _PER_UNIT).astype(np.int64)
    low, high = int(tenths.min()), int(tenths.max())
    written = [_number(tenth / _PER_UNIT) for tenth in range(low, high + 1)]
    # zero has a sign of its own
    table = np.array([*written, _number(-0.0)], object)
    at = np.where((tenths == 0) & np.signbit(values), len(written), tenths - low)
    return [table[column].tolist() for column in at.T]


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0").replace("-0.", "-.").removeprefix("0") or "0"
