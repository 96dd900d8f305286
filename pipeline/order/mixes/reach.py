"""Which cores lie within reach of each other: pairs, the parts that hang together, and places too dense to weigh."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

__all__ = ["WHOLE", "Floats", "Ints", "Thinned", "bags_of", "hang_together", "pairs_within", "thin_out"]

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# a bag in the whole numbers that needs are counted in: sums are exact, in whatever order
WHOLE: Final = 10**9
# in a square whose diagonal is the reach all cores are within reach of each other; the side is a hair below
_SIDE: Final = 1.41422
# more cores than this in one square: all but so many are packed beforehand
_DENSE: Final = 16
_LEFT: Final = 8


def bags_of(need: Ints) -> Ints:
    """Whole mixes that hold so much."""
    return -(-need // WHOLE)


def pairs_within(x: Floats, y: Floats, group: Ints, reach_m: float) -> Ints:
    """Pairs of one group that lie no further apart than ``reach_m``: P rows of two places, the smaller first."""
    if len(x) < 2:
        return np.empty((0, 2), dtype=np.int64)
    pairs: Ints = _tree(x, y, group, reach_m).query_pairs(reach_m, output_type="ndarray").astype(np.int64)
    return pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]


def _tree(x: Floats, y: Floats, group: Ints, reach_m: float) -> cKDTree:
    # a third coordinate keeps groups further apart than any reach asked for
    return cKDTree(np.column_stack([x - x.min(), y - y.min(), group * (4 * reach_m + 1)]))


def hang_together(count: int, pairs: Ints) -> Ints:
    """Number the parts that pairs hold together, ``count`` places in all."""
    links = coo_array((np.ones(len(pairs), dtype=bool), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int64)


class Thinned(NamedTuple):
    """What is packed beforehand.

    ``square``: for each core the number of the dense square that it lies in, or -1. ``is_packed``: whether it is
    packed; all the packed cores of a square are one cluster. ``links``: pairs of places that hold together whatever
    the packed cores held together, and perhaps more.
    """

    square: Ints
    is_packed: npt.NDArray[np.bool_]
    links: Ints


def thin_out(x: Floats, y: Floats, need: Ints, group: Ints, reach_m: float) -> Thinned:
    """Pack most cores of a dense place beforehand, so that no place has more pairs than can be weighed.

    Parameters
    ----------
    x, y, need, group
        N places in metres, needs below one bag, and groups, in a fixed order.
    reach_m
        The reach.
    """
    side = reach_m / _SIDE
    across, along = (np.floor(axis / side) if side > 0 else axis for axis in (x - x.min(), y - y.min()))
    cell = _number_of(group, across, along)
    if side > 0 and np.bincount(cell).max() > _DENSE:
        cell = _whole_places(x, y, group, cell, across, along, reach_m)
    count = np.bincount(cell)
    square = np.where(count[cell] > _DENSE, cell, -1)
    is_packed = np.zeros(len(x), dtype=bool)
    here = np.flatnonzero(square >= 0)
    if not len(here):
        return Thinned(square, is_packed, np.empty((0, 2), dtype=np.int64))
    here = here[np.argsort(cell[here], kind="stable")]
    dense = pd.DataFrame({"cell": cell[here], "need": need[here]})
    waste = -dense.groupby("cell")["need"].cumsum() % WHOLE
    left = dense["cell"].map(pd.Series(count)) - 1 - dense.groupby("cell").cumcount()
    # of the few places to stop at, the one that fills its last mix best
    stops = dense.assign(left=left, waste=waste)[left.between(_LEFT, _DENSE)]
    best = stops.sort_values(["cell", "waste", "left"]).drop_duplicates("cell").set_index("cell")["left"]
    is_packed[here[left.to_numpy() >= best.reindex(dense["cell"]).to_numpy()]] = True
    # whatever a packed core reaches lies within the reach and a diagonal of any other core of its square
    first = here[~dense["cell"].duplicated().to_numpy()]
    tree = _tree(x, y, group, reach_m)
    near = tree.query_ball_point(tree.data[first], 2 * reach_m)
    reached = np.concatenate([np.asarray(one, dtype=np.int64) for one in near])
    return Thinned(square, is_packed, np.column_stack([np.repeat(first, [len(one) for one in near]), reached]))


def _whole_places(x: Floats, y: Floats, group: Ints, cell: Ints, across: Floats, along: Floats, reach_m: float) -> Ints:
    """Number squares anew, so that a place all of whose cores are within reach of each other is not cut in squares."""
    first = np.unique(cell, return_index=True)[1]
    # cores within reach of each other are at most two squares apart
    tree = cKDTree(np.column_stack([across[first], along[first], 8.0 * group[first]]))
    place = hang_together(len(first), tree.query_pairs(2.5, p=np.inf, output_type="ndarray"))[cell]
    spans = pd.DataFrame({"x": x, "y": y}).groupby(place).agg(["min", "max"])
    across_m, along_m = (spans[axis]["max"] - spans[axis]["min"] for axis in ("x", "y"))
    is_whole = np.hypot(across_m, along_m).to_numpy() <= reach_m
    return np.unique(np.where(is_whole[place], len(first) + place, cell), return_inverse=True)[1].astype(np.int64)


def _number_of(group: Ints, across: Floats, along: Floats) -> Ints:
    keys = pd.DataFrame({"group": group, "across": across, "along": along})
    return keys.groupby(["group", "across", "along"], sort=True).ngroup().to_numpy().astype(np.int64)
