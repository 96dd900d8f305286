"""Few bags for more cores than can be solved exactly: merge the clusters that fill bags best, then re-solve neighbours.

Clusterings are as in :mod:`pipeline.order.mixes.clusters`: each cluster is named by its lowest core.
"""

from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from pipeline.order.mixes.clusters import ONE_BAG, Floats, Ints, bags_by, bags_of, cluster_names, name_clusters
from pipeline.order.mixes.fewest import MOST_ENUMERATED, reach_bits, split_few

__all__ = ["merge_and_improve", "split_again"]

# a window takes the clusters that begin within this many cores, so that it never holds more than MOST_ENUMERATED
_BEGINS: Final = 6
_LARGEST: Final = MOST_ENUMERATED - _BEGINS + 1
_PASSES: Final = 4
# from this many pairs, fewer passes
_PASSES_OF_MANY: Final = 2
_MANY: Final = 1_500_000
# the most rounds of moves, and the most pairs examined in all of them
_ROUNDS: Final = 20
_EXAMINED: Final = 6_000_000
_NOTHING: Final = 1e-9
# radians by which the plane turns between passes, so that windows are cut elsewhere; no fraction of a full turn
_TURN: Final = 2.399963


def merge_and_improve(x: Floats, y: Floats, need: Ints, component: Ints, pairs: Ints) -> Ints:
    """Cluster cores so that they take few bags.

    Parameters
    ----------
    x, y, need, component
        N coordinates in metres, needs below one bag, and the number of each core's connected component.
    pairs
        P pairs of cores within reach of each other.

    Returns
    -------
    numpy.ndarray
        The clustering of the N cores.
    """
    cluster = np.arange(len(need))
    passes = _PASSES if len(pairs) < _MANY else _PASSES_OF_MANY
    for turn in range(passes):
        cluster = _merge(need, pairs, cluster, gather=turn >= passes - 2)
        cluster = _move(need, pairs, cluster)
        cluster = _improve(x, y, need, component, pairs, cluster, turn * _TURN)
    return cluster


def _merge(need: Ints, pairs: Ints, cluster: Ints, *, gather: bool) -> Ints:
    """Merge clusters two by two, starting with those whose last bags together are fullest.

    With ``gather``, clusters that save nothing together yet are merged too, starting with those that leave most of a
    bag over. The higher cluster takes the name of the lower one, which keeps clusters named by their lowest core.
    """
    count = len(need)
    total = np.zeros(count, dtype=np.int64)
    np.add.at(total, cluster, need)
    one, other = _contract(cluster[pairs[:, 0]], cluster[pairs[:, 1]], np.bincount(cluster, minlength=count))
    while len(one):
        both = total[one] + total[other]
        waste = -both % ONE_BAG
        saves = bags_of(both) < bags_of(total[one]) + bags_of(total[other])
        may = np.flatnonzero(saves)
        loss = waste[may]
        if not len(may):
            if not gather:
                break
            may, loss = np.arange(len(one)), ONE_BAG - waste
        taken = may[_best_for_both(loss, one[may], other[may], count)]
        into = np.arange(count)
        into[other[taken]] = one[taken]
        parts = np.bincount(into, minlength=count)
        total[one[taken]] = both[taken]
        cluster = into[cluster]
        # most pairs are not affected by a merge
        touched = (parts[into[one]] > 1) | (parts[into[other]] > 1)
        new_one, new_other = _contract(into[one[touched]], into[other[touched]], parts)
        one, other = np.concatenate([one[~touched], new_one]), np.concatenate([other[~touched], new_other])
    return cluster


def _best_for_both(loss: Ints | Floats, one: Ints, other: Ints, count: int) -> Ints:
    """Pick the pairs that are the best for both of their clusters, the first among equals: at most one per cluster."""
    least = np.full(count, np.inf)
    np.minimum.at(least, one, loss)
    np.minimum.at(least, other, loss)
    picked = np.flatnonzero((loss == least[one]) & (loss == least[other]))
    first = np.full(count, len(loss))
    np.minimum.at(first, one[picked], picked)
    np.minimum.at(first, other[picked], picked)
    best: Ints = picked[(first[one[picked]] == picked) & (first[other[picked]] == picked)]
    return best


def _contract(one: Ints, other: Ints, parts: Ints) -> tuple[Ints, Ints]:
    """Keep the pairs of merged clusters all of whose former clusters were pairs; lower name first."""
    low, high = np.minimum(one, other), np.maximum(one, other)
    key, count = np.unique((low * len(parts) + high)[low != high], return_counts=True)
    low, high = key // len(parts), key % len(parts)
    whole = count == parts[low] * parts[high]
    return low[whole], high[whole]


def _move(need: Ints, pairs: Ints, cluster: Ints) -> Ints:
    """Move single cores to other clusters wherever that saves a bag or gathers leftovers.

    While cores move, a cluster keeps the name it came with; clusters are named by their lowest core again at the end.
    """
    count = len(need)
    one, other = np.concatenate([pairs, pairs[:, ::-1]]).T
    for _ in range(min(_ROUNDS, _EXAMINED // max(len(one), 1) + 1)):
        size = np.bincount(cluster, minlength=count)
        total = np.zeros(count, dtype=np.int64)
        np.add.at(total, cluster, need)
        into = cluster[other]
        key, links = np.unique((one * count + into)[into != cluster[one]], return_counts=True)
        core, into = key // count, key % count
        able = links == size[into]
        core, into = core[able], into[able]
        out = cluster[core]
        gain = (
            _weight(total[out])
            + _weight(total[into])
            - _weight(total[out] - need[core])
            - _weight(total[into] + need[core])
        )
        good = np.flatnonzero(gain > _NOTHING)
        if not len(good):
            break
        taken = good[_best_for_both(-gain[good], out[good], into[good], count)]
        cluster = cluster.copy()
        cluster[core[taken]] = into[taken]
    return name_clusters(cluster)


def _weight(total: Ints) -> Floats:
    """Return the bags of each sum, plus up to a sixteenth for a leftover: least where the leftover is 0 or 1 bag."""
    bags = bags_of(total)
    waste = (bags * ONE_BAG - total) / ONE_BAG
    return bags + waste * (1 - waste) / 4


def _improve(x: Floats, y: Floats, need: Ints, component: Ints, pairs: Ints, cluster: Ints, turn: float) -> Ints:
    """Split the cores of neighbouring clusters again, one window at a time, into the fewest bags."""
    name = cluster_names(cluster)
    # the position of each core's cluster among the names
    number = np.searchsorted(name, cluster)
    size = np.bincount(number)
    along, across = (np.bincount(number, axis) / size for axis in _turned(x, y, turn))
    apart = component[name] * (4 * (np.ptp(x) + np.ptp(y)) + 1)
    small = np.flatnonzero(size <= _LARGEST)
    if not len(small):
        return cluster
    # consecutive leaves of a tree of the plane are neighbours
    order = small[cKDTree(np.column_stack([along, across, apart])[small], leafsize=1).indices]
    begin = np.cumsum(size[order]) - size[order]
    window = np.full(len(size), -1)
    window[order] = begin // _BEGINS
    of_core = window[number]
    bags = bags_by(number, need)
    inside = of_core >= 0
    now = np.bincount(window[small], bags[small]).astype(np.int64)
    least = bags_by(of_core[inside], need[inside])
    # a window that already takes the rounded sum cannot improve
    hopeful = now > least
    core = np.flatnonzero(inside & hopeful[of_core])
    core = core[np.argsort(of_core[core], kind="stable")]
    return split_again(cluster, core, of_core[core], need, pairs, gather=True)


def _turned(x: Floats, y: Floats, turn: float) -> tuple[Floats, Floats]:
    return x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)


def split_again(cluster: Ints, core: Ints, problem: Ints, need: Ints, pairs: Ints, *, gather: bool = False) -> Ints:
    """Return a clustering with the cores of every problem clustered again, exactly.

    Parameters
    ----------
    cluster
        The clustering of N cores. A problem holds whole clusters of it.
    core, problem
        The cores to cluster again, and the problem of each, by problem and then core; at most MOST_ENUMERATED cores
        per problem.
    need, pairs
        N needs below one bag, and P pairs of cores within reach of each other.
    gather
        As in :func:`pipeline.order.mixes.fewest.split_few`.
    """
    cluster = cluster.copy()
    number = np.unique(problem, return_inverse=True)[1]
    sizes = np.bincount(number)
    start = np.cumsum(sizes) - sizes
    of_core = np.full(len(cluster), -1)
    position = np.full(len(cluster), -1)
    of_core[core] = number
    position[core] = np.arange(len(core)) - start[number]
    one, other = pairs.T
    same = (of_core[one] >= 0) & (of_core[one] == of_core[other])
    one, other = one[same], other[same]
    for size in np.unique(sizes):
        these = np.flatnonzero(sizes == size)
        row = np.full(len(sizes), -1)
        row[these] = np.arange(len(these))
        mine = row[of_core[one]] >= 0
        near = reach_bits(len(these), int(size), row[of_core[one[mine]]], position[one[mine]], position[other[mine]])
        cores = core[start[these][:, None] + np.arange(size)]
        cluster[cores] = np.take_along_axis(cores, split_few(need[cores], near, gather=gather), axis=1)
    return cluster
