"""Prices per core that no set of cores exceeds: added up, they prove what any choice of sets must cost at least."""

from typing import Final

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from pipeline.plan.crews import Bools
from pipeline.plan.pieces import linked, pieces, runs
from pipeline.plan.travel import Floats, Ints

__all__ = ["proven_prices"]

# the best prices are found among so many jobs at once
_PIECE: Final = 1500
_CLOSE: Final = 1e-6


def proven_prices(members: Ints, cost: Floats, most: Floats, weight: Floats, xy: Floats) -> Floats:
    """Return N prices, zero or more: those of the members of a set add up to its cost at most.

    The sum of the prices is no more than the cost of any choice of sets and single jobs in which each job is once. They
    are the dual of the fractional choice of sets, found by a linear programme. Whatever it returns is then lowered
    until each set holds, so that the proof does not depend on it.

    Parameters
    ----------
    members
        M sets of jobs, -1 after the last of each.
    cost
        Of each set.
    most
        N: the most that each job may be priced at: its cost alone, or less where it may be in sets that are not listed.
    weight
        N, above zero: the prices are the best for the sum of prices times this.
    xy
        N by 2, where the jobs lie.
    """
    price = most.copy()
    if len(members):
        together = linked(members, len(most))
        inside = np.unique(members[members >= 0])
        piece = pieces(together, inside, xy, _PIECE)
        first = piece[members[:, 0]]
        within = np.flatnonzero(((piece[members] == first[:, None]) | (members < 0)).all(axis=1))
        by_itself = within[np.bincount(first[within])[first[within]] == 1]
        is_plain = _priced_as_pairs(members[by_itself], cost[by_itself], most, weight, price)
        within = np.setdiff1d(within, by_itself[is_plain])
        order = within[np.argsort(first[within], kind="stable")]
        known: dict[bytes, Floats] = {}
        for begin, end in runs(first[order]):
            some = order[begin:end]
            held = members[some] >= 0
            jobs, column = np.unique(members[some][held], return_inverse=True)
            # where sets take the same bags, many pieces are alike
            key = b"".join(part.tobytes() for part in (held, column, cost[some], most[jobs], weight[jobs]))
            if key not in known:
                known[key] = _best_prices(held, column, cost[some], most[jobs], weight[jobs])
            price[jobs] = known[key]
    return _lowered(members, cost, np.clip(price, 0.0, most))


def _priced_as_pairs(members: Ints, cost: Floats, most: Floats, weight: Floats, price: Floats) -> Bools:
    """Price the two jobs of sets that share no job with another, and return which sets these are.

    What the linear programme finds where neither job reaches the cost of the set and both together exceed it: the job
    of more weight, of equal ones the later, has its most, and the other what is left.
    """
    pair = np.sort(members[:, :2], axis=1)
    own = most[pair]
    is_between = (own.max(axis=1) < cost - _CLOSE) & (own.sum(axis=1) > cost + _CLOSE)
    is_plain: Bools = is_between & (members[:, 2:] < 0).all(axis=1)
    pair, own, cost = pair[is_plain], own[is_plain], cost[is_plain]
    dear = (weight[pair[:, 1]] >= weight[pair[:, 0]]).astype(np.int64)
    row = np.arange(len(pair))
    price[pair[row, dear]] = own[row, dear]
    price[pair[row, 1 - dear]] = cost - own[row, dear]
    return is_plain


def _best_prices(held: Bools, column: Ints, cost: Floats, most: Floats, weight: Floats) -> Floats:
    """Return the best prices for n jobs in m sets; ``held``: the cells of the sets that hold one, ``column``: which."""
    row = np.repeat(np.arange(len(held)), held.sum(axis=1))
    sums = csr_array((np.ones(len(column)), (row, column)), shape=(len(held), len(most)))
    # a choice without whole numbers: of the ways to call the solver, the one that takes the least time
    found = milp(-weight, bounds=Bounds(0, most), constraints=LinearConstraint(sums, -np.inf, cost))
    return most if found.x is None else found.x


def _lowered(members: Ints, cost: Floats, price: Floats) -> Floats:
    """Return the prices, each lowered as far as the set of it that is exceeded the most asks for."""
    held = members >= 0
    total = np.where(held, price[members], 0.0).sum(axis=1)
    share = np.divide(cost, total, out=np.ones(len(cost)), where=total > cost)
    least = np.ones(len(price))
    np.minimum.at(least, members[held], np.broadcast_to(share[:, None], members.shape)[held])
    return price * least
