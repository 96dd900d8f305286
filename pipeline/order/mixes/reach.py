"""Which cores are within reach of each other: pairs, connected components, and spots too dense to compare pairwise."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from pipeline.order.mixes.clusters import ONE_BAG, Floats, Ints

__all__ = ["Thinned", "connected", "pairs_within", "thin_out"]

# all cores in a square whose diagonal is the reach are within reach of each other; rounded so that the side is shorter
_SIDE: Final = 1.41422
# a square with more cores than _DENSE is packed beforehand, down to between _LEFT and _DENSE cores
_DENSE: Final = 16
_LEFT: Final = 8


def pairs_within(x: Floats, y: Floats, group: Ints, reach_m: float) -> Ints:
    """Return the pairs of cores of one group that are at most ``reach_m`` apart.

    Parameters
    ----------
    x, y, group
        N coordinates in metres, and the number of each core's group.
    reach_m
        The reach in metres, itself included.

    Returns
    -------
    numpy.ndarray
        P rows of two positions, the lower first, in ascending order.
    """
    if len(x) < 2:
        return np.empty((0, 2), dtype=np.int64)
    pairs: Ints = _tree(x, y, group, reach_m).query_pairs(reach_m, output_type="ndarray").astype(np.int64)
    return pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]


def _tree(x: Floats, y: Floats, group: Ints, reach_m: float) -> cKDTree:
    # the third coordinate separates groups by more than the reach
    return cKDTree(np.column_stack([x - x.min(), y - y.min(), group * (4 * reach_m + 1)]))


def connected(count: int, pairs: Ints) -> Ints:
    """Return the number of the connected component that each of ``count`` cores is in, from 0, by first core."""
    links = coo_array((np.ones(len(pairs), dtype=bool), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int64)


class Thinned(NamedTuple):
    """Which cores of dense squares are packed beforehand.

    ``square``: for each core the number of its dense square, or -1. ``is_packed``: whether it is packed; the packed
    cores of one square are one cluster. ``links``: pairs of cores that connect at least what the packed cores
    connected.
    """

    square: Ints
    is_packed: npt.NDArray[np.bool_]
    links: Ints


def thin_out(x: Floats, y: Floats, need: Ints, group: Ints, reach_m: float) -> Thinned:
    """Pack most cores of dense squares beforehand, so that the number of pairs stays manageable.

    Parameters
    ----------
    x, y, need, group
        N coordinates in metres, needs below one bag, and group numbers, in a fixed order.
    reach_m
        The reach in metres.

    Returns
    -------
    Thinned
        A square of more than 16 cores keeps 8 to 16 of them unpacked.
    """
    side = reach_m / _SIDE
    across, along = (np.floor(axis / side) if side > 0 else axis for axis in (x - x.min(), y - y.min()))
    cell = _cell_number(group, across, along)
    if side > 0 and np.bincount(cell).max() > _DENSE:
        cell = _merge_small_spots(x, y, group, cell, across, along, reach_m)
    count = np.bincount(cell)
    square = np.where(count[cell] > _DENSE, cell, -1)
    is_packed = np.zeros(len(x), dtype=bool)
    here = np.flatnonzero(square >= 0)
    if not len(here):
        return Thinned(square, is_packed, np.empty((0, 2), dtype=np.int64))
    here = here[np.argsort(cell[here], kind="stable")]
    dense = pd.DataFrame({"cell": cell[here], "need": need[here]})
    waste = -dense.groupby("cell")["need"].cumsum() % ONE_BAG
    left = dense["cell"].map(pd.Series(count)) - 1 - dense.groupby("cell").cumcount()
    # stop packing where the last bag is fullest
    stops = dense.assign(left=left, waste=waste)[left.between(_LEFT, _DENSE)]
    best = stops.sort_values(["cell", "waste", "left"]).drop_duplicates("cell").set_index("cell")["left"]
    is_packed[here[left.to_numpy() >= best.reindex(dense["cell"]).to_numpy()]] = True
    # anything a packed core reaches is within twice the reach of every other core of its square
    first = here[~dense["cell"].duplicated().to_numpy()]
    tree = _tree(x, y, group, reach_m)
    near = tree.query_ball_point(tree.data[first], 2 * reach_m)
    reached = np.concatenate([np.asarray(one, dtype=np.int64) for one in near])
    return Thinned(square, is_packed, np.column_stack([np.repeat(first, [len(one) for one in near]), reached]))


def _merge_small_spots(
    x: Floats, y: Floats, group: Ints, cell: Ints, across: Floats, along: Floats, reach_m: float
) -> Ints:
    """Renumber squares so that a spot whose cores are all within reach of each other is a single one."""
    first = np.unique(cell, return_index=True)[1]
    # cores within reach of each other are at most two squares apart
    tree = cKDTree(np.column_stack([across[first], along[first], 8.0 * group[first]]))
    spot = connected(len(first), tree.query_pairs(2.5, p=np.inf, output_type="ndarray"))[cell]
    spans = pd.DataFrame({"x": x, "y": y}).groupby(spot).agg(["min", "max"])
    across_m, along_m = (spans[axis]["max"] - spans[axis]["min"] for axis in ("x", "y"))
    is_small = np.hypot(across_m, along_m).to_numpy() <= reach_m
    return np.unique(np.where(is_small[spot], len(first) + spot, cell), return_inverse=True)[1].astype(np.int64)


def _cell_number(group: Ints, across: Floats, along: Floats) -> Ints:
    keys = pd.DataFrame({"group": group, "across": across, "along": along})
    return keys.groupby(["group", "across", "along"], sort=True).ngroup().to_numpy().astype(np.int64)
