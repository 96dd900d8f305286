"""Few bags where cores are too many to try every way: merge what fills a bag best, then part neighbours anew."""

from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from pipeline.order.mixes.fewest import MOST_ENUMERATED, part_few, relation
from pipeline.order.mixes.reach import WHOLE, Floats, Ints, bags_of

__all__ = ["bags_by", "merge_and_improve", "part_anew"]

# a window takes clusters that begin within so many cores, so that it never holds more than are enumerated
_BEGINS: Final = 6
_LARGEST: Final = MOST_ENUMERATED - _BEGINS + 1
_PASSES: Final = 4
# with so many pairs fewer passes are made
_PASSES_OF_MANY: Final = 2
_MANY: Final = 1_500_000
# so many rounds of moves, or fewer where so many pairs in all have been looked at
_ROUNDS: Final = 20
_LOOKED_AT: Final = 6_000_000
_NOTHING: Final = 1e-9
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
    passes = _PASSES if len(pairs) < _MANY else _PASSES_OF_MANY
    for turn in range(passes):
        cluster = _number(_merge(need, pairs, cluster, gather=turn >= passes - 2))
        cluster = _number(_move(need, pairs, cluster))
        cluster = _number(_improve(x, y, need, part, pairs, cluster, turn * _TURN))
    return cluster


def _number(cluster: Ints) -> Ints:
    """Number clusters from nought, in the order of their first cores."""
    _, first, inverse = np.unique(cluster, return_index=True, return_inverse=True)
    return np.argsort(np.argsort(first))[inverse]


def _merge(need: Ints, pairs: Ints, cluster: Ints, *, gather: bool) -> Ints:
    """Merge clusters two by two, those first whose last mixes together fill one best.

    With ``gather`` also clusters that together save nothing yet, those first that leave over nearly a bag.
    """
    count = len(need)
    total = np.zeros(count, dtype=np.int64)
    np.add.at(total, cluster, need)
    one, other = _contract(cluster[pairs[:, 0]], cluster[pairs[:, 1]], np.bincount(cluster, minlength=count))
    while len(one):
        both = total[one] + total[other]
        waste = -both % WHOLE
        saves = bags_of(both) < bags_of(total[one]) + bags_of(total[other])
        may = np.flatnonzero(saves)
        loss = waste[may]
        if not len(may):
            if not gather:
                break
            may, loss = np.arange(len(one)), WHOLE - waste
        taken = may[_best_for_both(loss, one[may], other[may], count)]
        into = np.arange(count)
        into[other[taken]] = one[taken]
        parts = np.bincount(into, minlength=count)
        total[one[taken]] = both[taken]
        cluster = into[cluster]
        # most pairs have nothing to do with what was merged
        touched = (parts[into[one]] > 1) | (parts[into[other]] > 1)
        new_one, new_other = _contract(into[one[touched]], into[other[touched]], parts)
        one, other = np.concatenate([one[~touched], new_one]), np.concatenate([other[~touched], new_other])
    return cluster


def _best_for_both(loss: Ints | Floats, one: Ints, other: Ints, count: int) -> Ints:
    """Pick the pairs that are the best for both of their clusters, of equals the first: none has two picked."""
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
    """Keep the pairs of merged clusters all of whose parts were pairs."""
    low, high = np.minimum(one, other), np.maximum(one, other)
    key, count = np.unique((low * len(parts) + high)[low != high], return_counts=True)
    low, high = key // len(parts), key % len(parts)
    whole = count == parts[low] * parts[high]
    return low[whole], high[whole]


def _move(need: Ints, pairs: Ints, cluster: Ints) -> Ints:
    """Move single cores to other clusters wherever that saves a bag, or gathers what mixes leave over."""
    count = len(need)
    one, other = np.concatenate([pairs, pairs[:, ::-1]]).T
    for _ in range(min(_ROUNDS, _LOOKED_AT // max(len(one), 1) + 1)):
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
    return cluster


def _weight(total: Ints) -> Floats:
    bags = bags_of(total)
    waste = (bags * WHOLE - total) / WHOLE
    return bags + waste * (1 - waste) / 4


def _improve(x: Floats, y: Floats, need: Ints, part: Ints, pairs: Ints, cluster: Ints, turn: float) -> Ints:
    """Part the cores of neighbouring clusters anew, a window at a time, in every way there is."""
    cluster = _number(cluster)
    size = np.bincount(cluster)
    along, across = (np.bincount(cluster, axis) / size for axis in _turned(x, y, turn))
    first = np.unique(cluster, return_index=True)[1]
    apart = part[first] * (4 * (np.ptp(x) + np.ptp(y)) + 1)
    small = np.flatnonzero(size <= _LARGEST)
    if not len(small):
        return cluster
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
    # a window that already takes the rounded sum has nothing to gain
    hopeful = now > least
    core = np.flatnonzero(inside & hopeful[of_core])
    core = core[np.argsort(of_core[core], kind="stable")]
    # numbers beyond those that the windows give
    cluster = cluster + len(x)
    part_anew(cluster, core, of_core[core], need, pairs, gather=True)
    return cluster


def _turned(x: Floats, y: Floats, turn: float) -> tuple[Floats, Floats]:
    return x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)


def part_anew(cluster: Ints, core: Ints, problem: Ints, need: Ints, pairs: Ints, *, gather: bool = False) -> None:
    """Part every problem exactly; writes the clusters of its cores into ``cluster``, numbered by their first core.

    Parameters
    ----------
    cluster
        N numbers, changed in place.
    core, problem
        The cores to part, and the problem of each, sorted by problem; at most MOST_ENUMERATED cores a problem.
    need, pairs
        N needs below one bag, and P pairs of cores within reach of each other.
    gather
        As :func:`pipeline.order.mixes.fewest.part_few` takes it.
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
        labels = part_few(need[cores], near, gather=gather)
        # clusters are numbered by the first core that they hold
        for label in range(int(size)):
            held = labels == label
            first = np.where(held, cores, len(cluster)).min(axis=1)
            cluster[cores[held]] = np.broadcast_to(first[:, None], held.shape)[held]
