"""Which sets of cores one mix can serve: one shade and district, days and a crew in common, within the working time.

A mix is shared if it takes the crew, from the first pour to the last press, no longer than the working time to pour, to
press and to walk; and if no grout of any bag is older than that when its core is pressed. Grout that is left over when
the next bags are opened waits while they are mixed. The bags of one core are mixed together, so that a core alone has a
mix whatever it needs. Each core in a set saves: without it, the set would save less.
"""

from itertools import pairwise, permutations
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.plan.crews import Bools
from pipeline.plan.near_cores import Pairs, near_pairs
from pipeline.plan.slots import Bits, Slots
from pipeline.plan.travel import Floats, Ints, Travel

__all__ = ["MixRules", "MixSets", "mix_sets", "whole_bags"]

# a sum that misses a whole bag by a rounding error is that whole bag
_DIGITS: Final = 9
_CLOSE: Final = 1e-9
# sets of more cores, and more sets of one size than this, are not looked for
_MOST_CORES: Final = 5
_MOST_SETS: Final = 1_000_000
_NEAREST: Final = 12


class MixRules(NamedTuple):
    """The working time of a mix, the speed on foot in metres per minute, and the smallest share of a bag mixed."""

    working_min: float
    walking_m_min: float
    smallest: float


class MixSets(NamedTuple):
    """M sets of two or more jobs that can share a mix.

    ``members``: M by K positions of jobs in the order of pouring, -1 after the last. ``bags``: of the mix. ``saved``:
    bags less than each alone. ``walk_min``: on foot from the first to the last. ``hidden``: of the N jobs, which may be
    in further sets that are not listed.
    """

    members: Ints
    bags: Floats
    saved: Floats
    walk_min: Floats
    hidden: Bools


class _Needs(NamedTuple):
    """Of the N jobs: bags, in smallest shares, minutes to pour and press, and to mix a bag."""

    net: Floats
    hands: Floats
    mix: Floats
    smallest: float


def whole_bags(net: float, smallest: float) -> float:
    """Return the bags to mix for a net need."""
    return float(_whole(np.array([net / smallest]))[0] * smallest)


def _whole(shares: Floats) -> Floats:
    whole: Floats = np.ceil(np.round(shares, _DIGITS))
    return whole


def mix_sets(jobs: pd.DataFrame, slots: Slots, travel: Travel, rules: MixRules) -> MixSets:
    """Return the sets of jobs that can share a mix.

    Parameters
    ----------
    jobs
        N jobs: ``shade``, ``net_bags``, ``mix_min``, ``pour_min``, ``press_min``, ``place``, ``x_m``, ``y_m``.
    slots
        Which crew may do which of them on which day; a mix needs a crew and a day in common.
    travel
        Distances.
    rules
        What a mix allows.
    """
    net = jobs["net_bags"].fillna(0.0).to_numpy(float) / rules.smallest
    hands = (jobs["pour_min"] + jobs["press_min"]).to_numpy(float)
    needs = _Needs(net, hands, jobs["mix_min"].to_numpy(float), rules.smallest)
    pairs, hidden = near_pairs(jobs, needs.hands, slots.bits, travel, rules.working_min, rules.walking_m_min)
    sets, found = pairs.members, []
    while len(sets):
        walked, kept = _in_order(sets, pairs, needs, rules.working_min)
        found.append(_listed(walked, kept, pairs, needs, net))
        sets = sets[walked]
        if sets.shape[1] == _MOST_CORES or len(sets) > _MOST_SETS:
            # a core more may fit, for all that is known
            hidden[sets] = True
            break
        # no two of a set are further apart than all of its way
        longest = rules.working_min - (sets.shape[1] + 1) * float(needs.hands.min())
        near, most = pairs.within(longest), _NEAREST
        while near.sizes(sets[:, -1]).sum() > _MOST_SETS and most:
            # where too many cores lie together, sets are made of those that lie closest
            near, left = near.nearest(most)
            hidden[left], most = True, most // 2
        sets = _grown(sets, near, slots.bits, needs.hands, rules.working_min)
    # a set that is not listed may hold a core all of whose own pairs are
    beside = pairs.members[hidden[pairs.members].any(axis=1)]
    hidden[beside] = True
    return _together(found, hidden)


def _in_order(sets: Ints, pairs: Pairs, needs: _Needs, working_min: float) -> tuple[Bools, tuple[Ints, Floats]]:
    """Return which sets can be walked in time; their best order, and its minutes, infinite where no order will do."""
    size = sets.shape[1]
    room = working_min - needs.hands[sets].sum(axis=1) + _CLOSE
    legs = {(one, two): pairs.minutes(sets[:, one], sets[:, two]) for one in range(size) for two in range(one)}
    least, best = np.full(len(sets), np.inf), np.full(len(sets), np.inf)
    order = sets.copy()
    for way in permutations(range(size)):
        steps = [legs[max(a, b), min(a, b)] for a, b in pairwise(way)]
        walk = np.sum(steps, axis=0)
        least = np.minimum(least, walk)
        at = np.flatnonzero((walk <= room) & (walk < best - _CLOSE))
        turned = sets[at][:, list(way)]
        fresh = _oldest_min(turned, [step[at] for step in steps], needs) <= working_min + _CLOSE
        at, turned = at[fresh], turned[fresh]
        best[at], order[at] = walk[at], turned
    return least <= room, (order, best)


def _oldest_min(order: Ints, steps: list[Floats], needs: _Needs) -> Floats:
    """Return how old the oldest grout is when its core is pressed, in minutes from the pour of its bag."""
    net, hands = needs.net[order], needs.hands[order]
    used = np.cumsum(net, axis=1)
    open_shares = _whole(used)
    opened = np.diff(open_shares, axis=1, prepend=0.0) * needs.smallest
    mixing = np.ceil(opened - _CLOSE) * needs.mix[order]
    begun, opened_at = np.zeros(len(order)), np.zeros(len(order))
    oldest = hands[:, 0].copy()
    for at in range(1, order.shape[1]):
        begun = begun + hands[:, at - 1] + steps[at - 1] + mixing[:, at]
        is_left = open_shares[:, at - 1] > used[:, at - 1] + _CLOSE
        since = np.where(is_left, opened_at, begun)
        oldest = np.maximum(oldest, begun + hands[:, at] - since)
        opened_at = np.where(opened[:, at] > 0, begun, opened_at)
    return oldest


def _listed(walked: Bools, kept: tuple[Ints, Floats], pairs: Pairs, needs: _Needs, net: Floats) -> MixSets:
    """Return those of the sets in which each core saves."""
    order, walk = kept
    fresh = np.flatnonzero(walked & np.isfinite(walk))
    order = order[fresh]
    needed = net[order]
    alone, bags = _whole(needed).sum(axis=1), _whole(needed.sum(axis=1))
    saved = alone - bags
    saves = saved > 0.5
    for at in range(order.shape[1]):
        rest = np.delete(needed, at, axis=1)
        saves &= saved > _whole(rest).sum(axis=1) - _whole(rest.sum(axis=1)) + 0.5
    members = np.full((int(saves.sum()), _MOST_CORES), -1, dtype=np.int64)
    members[:, : order.shape[1]] = order[saves]
    share = needs.smallest
    return MixSets(members, bags[saves] * share, saved[saves] * share, walk[fresh][saves], pairs.none)


def _grown(sets: Ints, pairs: Pairs, bits: Bits, hands: Floats, working_min: float) -> Ints:
    """Return the sets of one core more, each pair of which is near, with a crew and a day in common."""
    row, more = pairs.after(sets[:, -1])
    fits = hands[sets].sum(axis=1)[row] + hands[more] <= working_min + _CLOSE
    row, more = row[fits], more[fits]
    for at in range(sets.shape[1] - 1):
        both = np.isfinite(pairs.minutes(sets[row, at], more))
        row, more = row[both], more[both]
    larger = np.column_stack([sets[row], more])
    common = bits[larger[:, 0]]
    for at in range(1, larger.shape[1]):
        common = common & bits[larger[:, at]]
    kept: Ints = larger[common.any(axis=1)]
    return kept


def _together(found: list[MixSets], hidden: Bools) -> MixSets:
    if not found:
        nothing = np.empty(0)
        return MixSets(np.empty((0, _MOST_CORES), dtype=np.int64), nothing, nothing, nothing, hidden)
    members, bags, saved, walk = (np.concatenate([one[at] for one in found]) for at in range(4))
    return MixSets(members, bags, saved, walk, hidden)
