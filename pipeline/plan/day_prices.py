"""The least that some jobs cost if each takes its cheapest day, with a price on the minutes of each day."""

from typing import Final, NamedTuple

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_array

from pipeline.plan.crews import Bools
from pipeline.plan.travel import Floats, Ints

__all__ = ["Offer", "least_cost"]

# prices are looked for with so many jobs, evenly taken, and tried at these shares of what was found
_TRIED: Final = 250
_SHARES: Final = (0.0, 0.6, 0.8, 0.9, 1.0, 1.1)
_BLOCK: Final = 20_000


class Offer(NamedTuple):
    """N jobs and D days: ``late`` and ``may``, N by D, the cost of each day and whether the job may be done then.

    ``minutes``: N, what each takes at least. ``room``: D, minutes of all crews. ``done``: N, what doing a job costs
    besides. ``out``: N, what leaving it out costs.
    """

    late: Floats
    may: Bools
    minutes: Floats
    room: Floats
    done: Floats
    out: Floats


def least_cost(offer: Offer) -> float:
    """Return a cost that no choice of days stays below, in which no day takes more minutes than it has.

    For any prices of the days' minutes, zero or more, the cheapest day of each job, its minutes paid for, less the
    price of all minutes there are, is such a cost: the best of several prices is returned.
    """
    if not len(offer.minutes):
        return 0.0
    price = _prices(offer)
    return max(_cost_at(offer, price * share) for share in _SHARES)


def _cost_at(offer: Offer, price: Floats) -> float:
    total = -float(np.dot(price, offer.room))
    for at in range(0, len(offer.minutes), _BLOCK):
        some = slice(at, at + _BLOCK)
        cost = offer.late[some] + offer.minutes[some, None] * price[None, :]
        cheapest = np.where(offer.may[some], cost, np.inf).min(axis=1) + offer.done[some]
        total += float(np.minimum(cheapest, offer.out[some]).sum())
    return total


def _prices(offer: Offer) -> Floats:
    """Return good prices of the days: the dual of a fractional choice of days for some of the jobs."""
    price = np.zeros(len(offer.room))
    some = np.unique(np.linspace(0, len(offer.minutes) - 1, _TRIED).round().astype(np.int64))
    some = some[offer.may[some].any(axis=1) & (offer.minutes[some] > 0)]
    if not len(some):
        return price
    share = offer.minutes[some].sum() / offer.minutes.sum()
    days = _needed_days(offer, some, share)
    job, day = np.nonzero(offer.may[np.ix_(some, days)])
    count, single = len(job), np.arange(len(some))
    cost = np.concatenate([offer.late[some[job], days[day]] + offer.done[some[job]], offer.out[some]])
    once = csr_array(
        (np.ones(count + len(some)), (np.concatenate([job, single]), np.arange(count + len(some)))),
    )
    minutes = csr_array((offer.minutes[some[job]], (day, np.arange(count))), shape=(len(days), count + len(some)))
    found = linprog(
        cost, A_ub=minutes, b_ub=offer.room[days] * share, A_eq=once, b_eq=np.ones(len(some)), method="highs"
    )
    if found.x is not None:
        price[days] = np.maximum(-found.ineqlin.marginals, 0.0)
    return price


def _needed_days(offer: Offer, some: Ints, share: float) -> Ints:
    """Return the days that the jobs can need: twice their minutes from the day on which the last becomes possible."""
    first = int(offer.may[some].argmax(axis=1).max())
    later = np.cumsum(np.where(np.arange(len(offer.room)) >= first, offer.room, 0.0)) * share
    enough = int(np.searchsorted(later, 2 * offer.minutes[some].sum())) + 1
    days = np.arange(len(offer.room))
    kept: Ints = days[(offer.room > 0) & (days <= enough)]
    return kept
