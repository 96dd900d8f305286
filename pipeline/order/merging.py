"""Few bags where cores are too many to try every way: merge what fills a bag best, then part neighbours anew."""

from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from pipeline.order.fewest import MOST_ENUMERATED, part_few, relation
from pipeline.order.reach import WHOLE, Floats, Ints, bags_of

__all__ = ["bags_by", "merge_and_improve"]

# a window takes clusters that begin within so many cores, so that it never holds more than are enumerated
_BEGINS: Final = 6
_LARGEST: Final = MOST_ENUMERATED - _BEGINS + 1
_PASSES: Final = 6
# turns the plane between passes, so that windows are cut elsewhere; no fraction of a full turn
_TURN: Final = 2.399963


def bags_by(cluster: Ints, need: Ints) -> Ints:
    """Bags of each cluster."""
    total = np.zeros(int(cluster.max(initial=-1)) + 1, dtype=np.int64)
    np.add.at(total, cluster, need)
    return bags_of(total)


def merge_and_improve(x: Floats, y: Floats, need: Ints, part: Ints, pairs: Ints) -> Ints:
    """Cluster cores so that they take few bags.

    Parameters
    ----------
    x, y, need, part
        N places in metres, needs below one bag, and the connected part that each core is in.
    pairs
        P pairs of cores within reach of each other.

    Returns
    -------
    numpy.ndarray
        The number of each core's cluster.
    """
    cluster = np.arange(len(need))
    for turn in range(_PASSES):
        cluster = _number(_merge(need, pairs, cluster))
        cluster = _number(_improve(x, y, need, part, pairs, cluster, turn * _TURN))
    return cluster


def _number(cluster: Ints) -> Ints:
    """Number clusters from nought, in the order of their first cores."""
    _, first, inverse = np.unique(cluster, return_index=True, return_inverse=True)
    return np.argsort(np.argsort(first))[inverse]


def _merge(need: Ints, pairs: Ints, cluster: Ints) -> Ints:
    """Merge clusters two by two, those first whose last mixes together fill one best."""
    count = len(need)
    total = np.zeros(count, dtype=np.int64)
    np.add.at(total, cluster, need)
    one, other = _contract(*cluster[pairs].T, np.bincount(cluster, minlength=count))
    while len(one):
        both = total[one] + total[other]
        saves = bags_of(both) < bags_of(total[one]) + bags_of(total[other])
        waste = -both % WHOLE
        # a pair that saves a bag, and leaves little over; else one whose waste together is nearly a bag
        order = np.lexsort((other, one, np.where(saves, waste, -waste), ~saves))
        rank = np.empty(len(one), dtype=np.int64)
        rank[order] = np.arange(len(order))
        best = np.full(count, len(order))
        np.minimum.at(best, one, rank)
        np.minimum.at(best, other, rank)
        # a pair that is the best for both of its clusters
        taken = np.flatnonzero((best[one] == rank) & (best[other] == rank))
        if saves.any():
            taken = taken[saves[taken]]
        into = np.arange(count)
        into[other[taken]] = one[taken]
        parts = np.bincount(into, minlength=count)
        total[one[taken]] = both[taken]
        cluster = into[cluster]
        one, other = _contract(into[one], into[other], parts)
    return cluster


def _contract(one: Ints, other: Ints, parts: Ints) -> tuple[Ints, Ints]:
    """Keep the pairs of merged clusters all of whose parts were pairs."""
    low, high = np.minimum(one, other), np.maximum(one, other)
    key, count = np.unique((low * len(parts) + high)[low != high], return_counts=True)
    low, high = key // len(parts), key % len(parts)
    whole = count == parts[low] * parts[high]
    return low[whole], high[whole]


def _improve(x: Floats, y: Floats, need: Ints, part: Ints, pairs: Ints, cluster: Ints, turn: float) -> Ints:
    """Part the cores of neighbouring clusters anew, a window at a time, in every way there is."""
    cluster = _number(cluster)
    size = np.bincount(cluster)
    along, across = (np.bincount(cluster, axis) / size for axis in _turned(x, y, turn))
    first = np.unique(cluster, return_index=True)[1]
    apart = part[first] * (4 * (np.ptp(x) + np.ptp(y)) + 1)
    small = np.flatnonzero(size <= _LARGEST)
    # the leaves of a tree of the plane, one after the other, are neighbours
    order = small[cKDTree(np.column_stack([along, across, apart])[small], leafsize=1).indices]
    begin = np.cumsum(size[order]) - size[order]
    window = np.full(len(size), -1)
    window[order] = begin // _BEGINS
    of_core = window[cluster]
    bags = bags_by(cluster, need)
    inside = of_core >= 0
    now = np.bincount(window[small], bags[small]).astype(np.int64)
    least = bags_by(of_core[inside], need[inside])
    hopeful = now > least
    core = np.flatnonzero(inside & hopeful[of_core])
    core = core[np.argsort(of_core[core], kind="stable")]
    out = cluster + len(x)
    part_anew(out, core, of_core[core], need, pairs)
    # the ways of a window that saves nothing are left as they were
    anew = np.full(len(x), -1)
    anew[core] = np.unique(out[core], return_inverse=True)[1]
    after = np.zeros_like(now)
    which = np.unique(anew[core], return_index=True)[1]
    np.add.at(after, of_core[core[which]], bags_by(anew[core], need[core]))
    better = core[after[of_core[core]] < now[of_core[core]]]
    cluster = cluster.copy()
    cluster[better] = anew[better] + len(x)
    return cluster


def _turned(x: Floats, y: Floats, turn: float) -> tuple[Floats, Floats]:
    return x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)


def part_anew(cluster: Ints, core: Ints, problem: Ints, need: Ints, pairs: Ints) -> None:
    """Part every problem exactly; writes the clusters of its cores into ``cluster``, numbered by their first core.

    Parameters
    ----------
    cluster
        N numbers, changed in place.
    core, problem
        The cores to part, and the problem of each, sorted by problem; at most MOST_ENUMERATED cores a problem.
    need, pairs
        N needs below one bag, and P pairs of cores within reach of each other.
    """
    number = np.unique(problem, return_inverse=True)[1]
    sizes = np.bincount(number)
    start = np.cumsum(sizes) - sizes
    of_core = np.full(len(cluster), -1)
    place = np.full(len(cluster), -1)
    of_core[core] = number
    place[core] = np.arange(len(core)) - start[number]
    one, other = pairs.T
    same = (of_core[one] >= 0) & (of_core[one] == of_core[other])
    one, other = one[same], other[same]
    for size in np.unique(sizes):
        these = np.flatnonzero(sizes == size)
        row = np.full(len(sizes), -1)
        row[these] = np.arange(len(these))
        mine = row[of_core[one]] >= 0
        near = relation(len(these), int(size), row[of_core[one[mine]]], place[one[mine]], place[other[mine]])
        cores = core[start[these][:, None] + np.arange(size)]
        labels = part_few(need[cores], near)
        # clusters are numbered by the first core that they hold
        for label in range(int(size)):
            held = labels == label
            first = np.where(held, cores, len(cluster)).min(axis=1)
            cluster[cores[held]] = np.broadcast_to(first[:, None], held.shape)[held]
