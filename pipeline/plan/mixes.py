"""Which cores share a mix: of all sets that one mix can serve, those that save most."""

from typing import Final

import numpy as np
import pandas as pd
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from pipeline.plan.crews import Bools
from pipeline.plan.mix_sets import MixRules, MixSets, whole_bags
from pipeline.plan.objective import BAG_MIN
from pipeline.plan.pieces import linked, pieces, runs
from pipeline.plan.slots import Slots
from pipeline.plan.travel import Floats, Ints

__all__ = ["MixRules", "mix_groups", "whole_bags"]

# the way on foot is gone when the cores are fitted, back again, and when they are poured
_WALKS: Final = 3
_DIGITS: Final = 6
# the best choice is found among so many jobs at once; more are taken in pieces, halved across one side and the other
_PIECE: Final = 120
_NODES: Final = 100
# no more is looked for than this share of the value: of 50 bags, a few minutes
_CLOSE_ENOUGH: Final = 0.002
# where cores lie so close that far more sets are possible, as many of the best sets of each, and fewer nodes
_SETS, _SETS_EACH, _FEW_NODES = 3000, 20, 10
# spreads sets of the same value evenly
_SPREAD: Final = 2_654_435_761


def mix_groups(
    jobs: pd.DataFrame, sets: MixSets, slots: Slots, late: Floats, *, quick: bool = False
) -> list[list[int]]:
    """Return sets of jobs that share a mix, as positions in ``jobs`` in the order of pouring; each job is in one set.

    Parameters
    ----------
    jobs
        N jobs: ``x_m``, ``y_m``.
    sets
        Those that can share a mix.
    slots
        Which crew may do which of them on which day.
    late
        N by D: minutes that lateness costs on each day; no less on a later one.
    quick
        Whether to take the sets that save most one after the other, without a search.
    """
    value = sets.saved * BAG_MIN - _WALKS * sets.walk_min - _waiting(sets.members, slots, late)
    chosen = _without_search(sets, value) if quick else _best(sets, value, jobs[["x_m", "y_m"]].to_numpy(float))
    taken = sets.members[chosen]
    alone = np.setdiff1d(np.arange(len(jobs)), taken)
    groups = [[one for one in members if one >= 0] for members in taken.tolist()] + [[one] for one in alone.tolist()]
    return sorted(groups, key=min)


def _waiting(members: Ints, slots: Slots, late: Floats) -> Floats:
    """Return the lateness that the cores of a set have on the first day in common, beyond that on their own."""
    kinds, kind_of = np.unique(slots.bits, axis=0, return_inverse=True)
    kind_of = kind_of.reshape(-1)
    # a set has few members, and few sets differ in when their cores may be done
    several = np.where(members >= 0, kind_of[members], kind_of[members[:, :1]])
    mixed = np.flatnonzero((several != several[:, :1]).any(axis=1))
    extra = np.zeros(len(members))
    if not len(mixed):
        return extra
    ways, way_of = np.unique(np.sort(several[mixed], axis=1), axis=0, return_inverse=True)
    common = np.bitwise_and.reduce(kinds[ways], axis=1)
    first = slots.first_days(common)[way_of.reshape(-1)]
    own = slots.first_days(kinds)[kind_of]
    for at in range(members.shape[1]):
        job = members[mixed, at]
        more = late[job, first] - late[job, own[job]]
        extra[mixed] += np.where(job >= 0, more, 0.0)
    return extra


def _best(sets: MixSets, value: Floats, xy: Floats) -> Ints:
    """Return the numbers of sets that share no job and together have the highest value, as far as it can be proved.

    Where many jobs hang together, each piece is solved by itself, first with no sets across its sides, then in pieces
    that lie across those sides, as far as the sets found so far lie within one.
    """
    able = np.flatnonzero(value > 0)
    if not len(able):
        return able
    first = sets.members[able, 0]
    together = linked(sets.members[able], len(xy))
    chosen = np.zeros(len(value), dtype=bool)
    for turn in range(2):
        asked = np.setdiff1d(sets.members[able], [-1])
        piece = pieces(together, asked, xy, _PIECE, turn)
        # a set found before that lies across two pieces stays, and its jobs with it
        held = np.flatnonzero(chosen & ~_is_within(sets.members, piece))
        piece[np.setdiff1d(sets.members[held], [-1])] = -1
        mine = able[_is_within(sets.members[able], piece)]
        chosen[mine] = False
        order = np.argsort(piece[sets.members[mine, 0]], kind="stable")
        numbers = piece[sets.members[mine[order], 0]]
        for begin, end in runs(numbers):
            some = mine[order[begin:end]]
            chosen[some[_chosen(sets.members[some], value[some])]] = True
        if (np.bincount(together[first]) <= _PIECE).all() and not turn:
            break
    return np.flatnonzero(chosen)


def _without_search(sets: MixSets, value: Floats) -> Ints:
    able = np.flatnonzero(value > 0)
    return able[_one_by_one(sets.members[able], value[able])] if len(able) else able


def _is_within(members: Ints, piece: Ints) -> Bools:
    """Return which sets have all their jobs in one piece; a job with -1 is in none."""
    own = piece[members[:, :1]]
    inside: Bools = ((piece[members] == own) | (members < 0)).all(axis=1) & (own[:, 0] >= 0)
    return inside


def _chosen(members: Ints, value: Floats) -> Bools:
    """Return which of the sets are chosen: the best choice, or the best found within a limit of nodes."""
    if len(members) > _SETS:
        few = _few(members, value)
        chosen = np.zeros(len(members), dtype=bool)
        chosen[few] = _chosen_of(members[few], value[few], _FEW_NODES)
        return chosen
    return _chosen_of(members, value, _NODES)


def _few(members: Ints, value: Floats) -> Ints:
    """Return the sets that are among the best of one of their jobs, per job that they hold."""
    held = members >= 0
    each = value / held.sum(axis=1)
    mixed = np.arange(len(members)) * _SPREAD % 2**32
    row, column = np.nonzero(held)
    job = members[row, column]
    order = np.lexsort((mixed[row], -np.round(each[row], _DIGITS), job))
    ranked = job[order]
    rank = np.arange(len(job)) - np.searchsorted(ranked, ranked, "left")
    few: Ints = np.unique(row[order][rank < _SETS_EACH])
    return few


def _chosen_of(members: Ints, value: Floats, nodes: int) -> Bools:
    jobs, row = np.unique(members[members >= 0], return_inverse=True)
    column = np.repeat(np.arange(len(members)), (members >= 0).sum(axis=1))
    shares = csr_array((np.ones(len(row)), (row, column)), shape=(len(jobs), len(members)))
    found = milp(
        -value,
        integrality=np.ones(len(value)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(shares, -np.inf, 1),
        options={"node_limit": nodes, "mip_rel_gap": _CLOSE_ENOUGH},
    )
    if found.x is not None:
        picked: Bools = found.x > 0.5
        return picked
    return _one_by_one(members, value)


def _one_by_one(members: Ints, value: Floats) -> Bools:
    """Return the sets of the highest value for each of their jobs, one after the other, that share no job."""
    chosen, taken = np.zeros(len(members), dtype=bool), set[int]()
    for at in np.lexsort((np.arange(len(value)), -value / (members >= 0).sum(axis=1))).tolist():
        own = {job for job in members[at].tolist() if job >= 0}
        if not own & taken:
            chosen[at] = True
            taken |= own
    return chosen
