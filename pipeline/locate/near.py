"""What of a layer lies near the cores of one cell: no more travels with them."""

from typing import Final

import numpy as np
import numpy.typing as npt
import shapely

__all__ = ["boxes_around", "rows_near", "rows_of"]

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

# cores in a square of this side share a box: a core far from the others then widens no box but its own
_SQUARE_M: Final = 100.0


def boxes_around(x: Floats, y: Floats, reach_m: Floats) -> npt.NDArray[np.object_]:
    """Return boxes that hold all that lies within reach of N positions, in metres; fewer than N where some are close.

    Each box is that of the cores in a square, widened by the longest reach among them.
    """
    if not len(x):
        return np.empty(0, dtype=object)
    across, up = np.floor(x / _SQUARE_M), np.floor(y / _SQUARE_M)
    order = np.lexsort((up, across))
    is_next = (np.diff(across[order], prepend=np.inf) != 0) | (np.diff(up[order], prepend=np.inf) != 0)
    begins = np.flatnonzero(is_next)
    x, y, reach = x[order], y[order], np.maximum.reduceat(reach_m[order], begins)
    west, south = (np.minimum.reduceat(side, begins) - reach for side in (x, y))
    east, north = (np.maximum.reduceat(side, begins) + reach for side in (x, y))
    boxes: npt.NDArray[np.object_] = shapely.box(west, south, east, north)
    return boxes


def rows_near(tree: shapely.STRtree, x: Floats, y: Floats, reach_m: Floats) -> Places:
    """Return the rows of a tree whose boxes lie within reach of any of N positions, in order."""
    rows: Places = np.unique(tree.query(boxes_around(x, y, reach_m))[1])
    return rows


def rows_of(keys: Places, wanted: Places) -> Places:
    """Return where the keys of a sorted column are that are wanted, in the order of these."""
    first, past = (np.searchsorted(keys, wanted, side=side) for side in ("left", "right"))
    number = past - first
    rows: Places = np.arange(number.sum()) + np.repeat(first - (np.cumsum(number) - number), number)
    return rows
