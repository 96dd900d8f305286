"""Clusters: sets of cores that share mixes, always written in the same way.

The invariant that every function of this package takes and returns: a clustering of N cores is an array of N
positions, and **each cluster is named by its lowest core**. The entry of a core is the position of the first core of
its cluster, so ``cluster[core] <= core`` and ``cluster[cluster[core]] == cluster[core]``. Two clusterings group the
cores alike exactly if the arrays are equal, no two clusters can clash, and the clustering of some cores becomes one of
all by a single lookup: ``some[cluster]``, as long as ``some`` ascends.

Components (cores connected by pairs within reach) are a different thing: they are numbered 0, 1, 2 and so on.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = ["ONE_BAG", "Floats", "Ints", "bags_by", "bags_of", "cluster_names", "name_clusters"]

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# one bag in the whole numbers that needs are counted in: sums are exact in any order
ONE_BAG: Final = 10**9


def name_clusters(label: Ints) -> Ints:
    """Return the clustering that any labels describe: cores with equal labels form a cluster."""
    _, first, inverse = np.unique(label, return_index=True, return_inverse=True)
    return first[inverse]


def cluster_names(cluster: Ints) -> Ints:
    """Return the name of each cluster once, in ascending order."""
    return np.flatnonzero(cluster == np.arange(len(cluster)))


def bags_of(need: Ints) -> Ints:
    """Return the whole bags that hold each need."""
    return -(-need // ONE_BAG)


def bags_by(number: Ints, need: Ints) -> Ints:
    """Return the whole bags that hold the needs of each cluster (or other numbered set), by its number."""
    total = np.zeros(int(number.max(initial=-1)) + 1, dtype=np.int64)
    np.add.at(total, number, need)
    return bags_of(total)
