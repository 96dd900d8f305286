"""Pairs of points that lie close together, by squares of a grid."""

from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = ["near_pairs"]

# in metres: finer squares would be too many to number across the longest country
_LEAST_SIDE_M: Final = 0.01
Places = npt.NDArray[np.intp]


def near_pairs(x_m: npt.NDArray[np.float64], y_m: npt.NDArray[np.float64], reach_m: float) -> tuple[Places, Places]:
    """Return every pair of N points within reach of each other, once, and some that lie a little farther apart.

    Parameters
    ----------
    x_m, y_m
        Coordinates of the points in metres, none missing.
    reach_m
        In metres.
    """
    if not len(x_m):
        return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)
    side = max(reach_m, _LEAST_SIDE_M)
    across, up = (np.floor((at - at.min()) / side).astype(np.int64) for at in (x_m, y_m))
    # a row free above and below, so that the square above the last one of a column is not the first of the next
    rows = int(up.max()) + 3
    square = across * rows + up + 1
    order = np.argsort(square, kind="stable")
    square = square[order]
    at = np.arange(len(square))
    # the rest of its own square and the one above; then the three of the next column
    spans = (
        (at + 1, np.searchsorted(square, square + 1, "right")),
        (np.searchsorted(square, square + rows - 1), np.searchsorted(square, square + rows + 1, "right")),
    )
    ones, others = [], []
    for first, last in spans:
        count = last - first
        ones.append(np.repeat(at, count))
        others.append(np.arange(count.sum()) + np.repeat(first - np.cumsum(count) + count, count))
    return order[np.concatenate(ones)], order[np.concatenate(others)]
