"""Products of large tables of masses with shares, whose digits do not depend on the number of processors.

The library of linear algebra gives large products to as many threads as there are processors. Where a sum is cut among
them its last digits change, and threads that wait for each other take longer than the product. The parts here are small
enough for one thread, and such as two threads would take.
"""

from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = ["by_column", "by_row", "columns_of"]

Single = npt.NDArray[np.float32]

# the library uses threads for no table with fewer cells
_LEAST_FOR_THREADS: Final = 460_800
_ROWS: Final = 4096
# columns that a kernel of the library sums in one way, and their greatest number of rows
_FIRST: Final = 4
_COLUMNS: Final = 16
_MOST: Final = _LEAST_FOR_THREADS // _COLUMNS - 1


def by_row(table: Single, shares: Single) -> Single:
    """Return the product of each row of a table with the shares of its columns."""
    count = len(table)
    if table.size < _LEAST_FOR_THREADS:
        product: Single = table @ shares
        return product
    half = (count + 1) // 2
    out = np.empty(count, dtype=np.float32)
    for begin, end in ((0, half), (half, count)):
        for at in range(begin, end, _ROWS):
            here = slice(at, min(at + _ROWS, end))
            np.matmul(table[here], shares, out=out[here])
    return out


def columns_of(table: Single) -> list[Single]:
    """Return a table in the groups of columns that :func:`by_column` sums."""
    if table.size < _LEAST_FOR_THREADS:
        return [table]
    half, width = table.shape[1] // 2, table.shape[1]
    cuts = [[begin, *range(begin + _FIRST, end, _COLUMNS)] for begin, end in ((0, half), (half, width))]
    return [np.ascontiguousarray(table[:, begin:end]) for begin, end in pairwise([*cuts[0], *cuts[1], width])]


def by_column(weights: Single, columns: list[Single]) -> Single:
    """Return the sum of each column of a table, its rows weighted; ``columns`` as :func:`columns_of` gives them."""
    if len(columns) == 1:
        product: Single = weights @ columns[0]
        return product
    sums = np.zeros(sum(group.shape[1] for group in columns), dtype=np.float32)
    for at in range(0, len(weights), _MOST):
        here = slice(at, at + _MOST)
        sums += np.concatenate([weights[here] @ group[here] for group in columns])
    return sums
