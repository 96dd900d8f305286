"""Prices per core that no set of cores exceeds: added up, they prove what any choice of sets must cost at least."""

from typing import Final

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from pipeline.plan.pieces import linked, pieces, runs
from pipeline.plan.travel import Floats, Ints

__all__ = ["proven_prices"]

# the best prices are found among so many jobs at once
_PIECE: Final = 1500


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
        order = within[np.argsort(first[within], kind="stable")]
        known: dict[bytes, Floats] = {}
        for begin, end in runs(first[order]):
            some = order[begin:end]
            jobs, column = np.unique(members[some][members[some] >= 0], return_inverse=True)
            row = np.repeat(np.arange(len(some)), (members[some] >= 0).sum(axis=1))
            sums = csr_array((np.ones(len(column)), (row, column)), shape=(len(some), len(jobs)))
            # where sets take the same bags, many pieces are alike
            key = b"".join(part.tobytes() for part in (row, column, cost[some], most[jobs], weight[jobs]))
            if key not in known:
                known[key] = _best_prices(sums, cost[some], most[jobs], weight[jobs])
            price[jobs] = known[key]
    return _lowered(members, cost, np.clip(price, 0.0, most))


def _best_prices(sums: csr_array, cost: Floats, most: Floats, weight: Floats) -> Floats:
    """Return the best prices for n jobs in m sets: ``sums``, m by n, has a one where a job is in a set."""
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
