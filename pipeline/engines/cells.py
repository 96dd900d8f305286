"""Cores cut into cells of equal work: the cells of a k-d tree."""

import numpy as np

from pipeline.engines.engine import Floats, Places

__all__ = ["cells_of"]


def cells_of(x: Floats, y: Floats, most: int) -> list[Places]:
    """Return which of N cores are in each cell, in the order of the cores.

    The cores are halved across the longer side of their box until no part has more than ``most``: every core is in one
    cell, also where several lie at one position. The halves differ by one core at most.

    Parameters
    ----------
    x, y
        N positions.
    most
        Number of cores in a cell at most, at least 1.
    """
    cells, waiting = [], [np.arange(len(x))]
    while waiting:
        part = waiting.pop()
        if len(part) <= most:
            cells.append(np.sort(part))
            continue
        side = x[part] if np.ptp(x[part]) >= np.ptp(y[part]) else y[part]
        # of cores level with the cut, the first by number are on this side
        order = np.lexsort((part, side))
        half = len(part) // 2
        waiting += [part[order[half:]], part[order[:half]]]
    return cells
