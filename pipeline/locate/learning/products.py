"""Products of large tables of masses with shares, whose digits do not depend on the number of processors.

The library of linear algebra gives large products to as many threads as there are processors. Where a sum is cut among
them its last digits change, and threads that wait for each other take longer than the product. The parts here are small
enough for one thread, and such as two threads would take.
"""

from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = ["by_column", "by_row"]

Single = npt.NDArray[np.float32]

# the library uses threads for no table with fewer cells
_LEAST_FOR_THREADS: Final = 460_800
_ROWS: Final = 4096
# columns that a kernel of the library sums in one way: a few first, then sixteen at a time
_FIRST: Final = 4


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


def by_column(weights: Single, table: Single) -> Single:
    """Return the sum of each column of a table, its rows weighted."""
    if table.size < _LEAST_FOR_THREADS:
        product: Single = weights @ table
        return product
    half = table.shape[1] // 2
    cuts = [0, _FIRST, half, half + _FIRST, table.shape[1]]
    return np.concatenate([weights @ table[:, begin:end] for begin, end in pairwise(cuts)])
