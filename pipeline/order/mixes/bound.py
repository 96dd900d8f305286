"""A proven lower bound on the bags of any sharing, where the fewest are not known exactly.

Give every core a price so that no set of cores within reach of each other costs more in total than the bags it takes.
Then no clustering takes fewer bags than the sum of the prices (the dual of a set partitioning programme).
"""

from typing import Final

import numpy as np

from pipeline.order.mixes.clusters import ONE_BAG, Ints, bags_by, bags_of

__all__ = ["price_bound"]

# sets of cores within reach of each other are listed up to this many per core of a component
_MOST_SETS: Final = 60
# prices start at a share of the need, at which no set costs too much, and are raised from there; no start is best for
# all, and from _MANY sets only the first is tried
_STARTS: Final = (1.0, 0.9, 0.0)
_MANY: Final = 300_000


def price_bound(need: Ints, component: Ints, pairs: Ints) -> Ints:
    """Return a lower bound on the bags of each connected component.

    Parameters
    ----------
    need
        N needs below one bag.
    component
        The number of each core's connected component, from zero.
    pairs
        P pairs of cores within reach of each other, the lower first, in ascending order.

    Returns
    -------
    numpy.ndarray
        A proven lower bound for each component, in bags.
    """
    bound = bags_by(component, need)
    count = len(bound)
    sets = _sets(component, pairs, len(need))
    listed = np.bincount(component[sets[0][:, 0]], minlength=count) > 0 if sets else np.zeros(count, dtype=bool)
    if not listed.any():
        return bound
    member = np.concatenate([one.ravel() for one in sets])
    sizes = np.concatenate([np.full(len(one), one.shape[1]) for one in sets])
    start = np.cumsum(sizes) - sizes
    bags = ONE_BAG * bags_of(np.add.reduceat(need[member], start))
    of_set = np.repeat(np.arange(len(sizes)), sizes)
    for start_at in _STARTS if len(sizes) < _MANY else _STARTS[:1]:
        raised = _raise(
            (need * start_at).astype(np.int64) * listed[component],
            member,
            of_set,
            bags,
            pairs[listed[component[pairs[:, 0]]]],
        )
        bound = np.maximum(bound, bags_by(component, raised))
    return bound


def _sets(component: Ints, pairs: Ints, count: int) -> list[Ints]:
    """Return all sets of cores within reach of each other, by size; none of a component that has too many."""
    keys = pairs[:, 0] * count + pairs[:, 1]
    after = np.searchsorted(pairs[:, 0], np.arange(count + 1))
    most = _MOST_SETS * np.bincount(component)
    seen = np.bincount(component)
    found = [np.arange(count)[:, None]]
    while len(found[-1]):
        sets = found[-1]
        last = sets[:, -1]
        more = after[last + 1] - after[last]
        dense = seen + np.bincount(component[last], more, minlength=len(most)) > most
        keep = ~dense[component[last]]
        if not keep.all():
            found = [one[~dense[component[one[:, 0]]]] for one in found]
            sets, last, more = sets[keep], last[keep], more[keep]
        grown = np.repeat(sets, more, axis=0)
        step = np.arange(len(grown)) - np.repeat(np.cumsum(more) - more, more)
        added = pairs[np.repeat(after[last], more) + step, 1]
        wanted = grown[:, :-1] * count + added[:, None]
        at = np.minimum(np.searchsorted(keys, wanted), len(keys) - 1)
        good = (keys[at] == wanted).all(axis=1)
        larger = np.column_stack([grown[good], added[good]])
        seen = seen + np.bincount(component[larger[:, 0]], minlength=len(most))
        found.append(larger)
    return found[:-1]


def _raise(prices: Ints, member: Ints, of_set: Ints, bags: Ints, pairs: Ints) -> Ints:
    """Raise prices until every core is in a set that costs as much as its bags; cores in the fewest sets first."""
    count = len(prices)
    sets_of_core = np.bincount(member, minlength=count)
    rank = np.empty(count, dtype=np.int64)
    rank[np.lexsort((np.arange(count), sets_of_core))] = np.arange(count)
    prices = prices.copy()
    left = bags.copy()
    np.subtract.at(left, of_set, prices[member])
    while True:
        slack = np.zeros(count, dtype=np.int64)
        slack[member] = np.iinfo(np.int64).max
        np.minimum.at(slack, member, left[of_set])
        rank = np.where(slack > 0, rank, count)
        open_pairs = (rank[pairs] < count).all(axis=1)
        pairs = pairs[open_pairs]
        still = rank[member] < count
        member, of_set = member[still], of_set[still]
        if not len(member):
            return prices
        # no two cores raised at once are within reach of each other, so no set contains both
        around = np.full(count, count)
        np.minimum.at(around, pairs[:, 0], rank[pairs[:, 1]])
        np.minimum.at(around, pairs[:, 1], rank[pairs[:, 0]])
        raised = rank < np.minimum(around, count)
        prices[raised] += slack[raised]
        hit = raised[member]
        left[of_set[hit]] -= slack[member[hit]]
