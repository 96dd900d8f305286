"""The least that some jobs cost if each takes its cheapest day, with a price on the minutes of each day."""

from typing import Final, NamedTuple

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_array

from pipeline.plan.crews import Bools
from pipeline.plan.travel import Floats, Ints

__all__ = ["Offer", "day_prices", "least_cost"]

# prices are looked for with so many jobs, evenly taken, and tried at these shares of what was found
_TRIED: Final = 250
_SHARES: Final = (0.0, 0.6, 0.8, 0.9, 1.0, 1.1)
_BLOCK: Final = 20_000
# with more choices of a job and a day than this, a job is offered few days at first: those that are cheapest at prices
# for some of the jobs. It is offered more until no other day would be cheaper
_CHOICES: Final = 12_000
_FIRST_DAYS, _MORE_DAYS, _ONE_OF = 16, 8, 8
# what the linear programme leaves undecided
_CLOSE: Final = 1e-7


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


class _Sample(NamedTuple):
    """Some jobs and the days that they can need: the same as in an offer, with what doing a job costs in ``cost``."""

    cost: Floats
    may: Bools
    minutes: Floats
    room: Floats
    out: Floats

    def one_of(self, number: int) -> "_Sample":
        """Return every so many jobs, with their share of the room."""
        minutes = self.minutes[::number]
        room = self.room * (minutes.sum() / self.minutes.sum())
        return _Sample(self.cost[::number], self.may[::number], minutes, room, self.out[::number])


def least_cost(offer: Offer, price: Floats) -> float:
    """Return a cost that no choice of days stays below, in which no day takes more minutes than it has.

    For any prices of the days' minutes, zero or more, the cheapest day of each job, its minutes paid for, less the
    price of all minutes there are, is such a cost: the best of several shares of the prices is returned.
    """
    if not len(offer.minutes):
        return 0.0
    return max(_cost_at(offer, price * share) for share in _SHARES)


def _cost_at(offer: Offer, price: Floats) -> float:
    total = -float(np.dot(price, offer.room))
    for at in range(0, len(offer.minutes), _BLOCK):
        some = slice(at, at + _BLOCK)
        cost = offer.late[some] + offer.minutes[some, None] * price[None, :]
        cheapest = np.where(offer.may[some], cost, np.inf).min(axis=1) + offer.done[some]
        total += float(np.minimum(cheapest, offer.out[some]).sum())
    return total


def day_prices(offer: Offer, near: Floats | None = None) -> Floats:
    """Return good prices of the days: the dual of a fractional choice of days for some of the jobs.

    ``near``: prices that may be near them.
    """
    price = np.zeros(len(offer.room))
    if not len(offer.minutes):
        return price
    some = np.unique(np.linspace(0, len(offer.minutes) - 1, _TRIED).round().astype(np.int64))
    some = some[offer.may[some].any(axis=1) & (offer.minutes[some] > 0)]
    if not len(some):
        return price
    share = offer.minutes[some].sum() / offer.minutes.sum()
    days = _needed_days(offer, some, share)
    cost = offer.late[np.ix_(some, days)] + offer.done[some, None]
    may = offer.may[np.ix_(some, days)]
    sample = _Sample(cost, may, offer.minutes[some], offer.room[days] * share, offer.out[some])
    price[days] = _whole(sample) if may.sum() <= _CHOICES else _by_turns(sample, None if near is None else near[days])
    return price


def _whole(sample: _Sample) -> Floats:
    found = _solved(sample, sample.may)
    return np.zeros(len(sample.room)) if found is None else found[0]


def _by_turns(sample: _Sample, near: Floats | None) -> Floats:
    """Return the same prices as of all choices at once: of those not offered, none would be cheaper for its job."""
    price = _whole(sample.one_of(_ONE_OF)) if near is None else near
    offered, least, days = np.zeros(sample.may.shape, dtype=bool), np.full(len(sample.out), np.inf), _FIRST_DAYS
    while True:
        cost = np.where(sample.may & ~offered, sample.cost + sample.minutes[:, None] * price, np.inf)
        best = np.argsort(cost, axis=1, kind="stable")[:, :days]
        cheaper = np.take_along_axis(cost, best, axis=1) < least[:, None] - _CLOSE
        if not cheaper.any():
            return price
        np.put_along_axis(offered, best, cheaper | np.take_along_axis(offered, best, axis=1), axis=1)
        found = _solved(sample, offered)
        if found is None:
            return price
        (price, least), days = found, _MORE_DAYS


def _solved(sample: _Sample, offered: Bools) -> tuple[Floats, Floats] | None:
    """Return the prices of the days and the cost of each job at the best choice of the days that it is offered."""
    job, day = np.nonzero(offered)
    count, single = len(job), np.arange(len(sample.out))
    cost = np.concatenate([sample.cost[job, day], sample.out])
    once = csr_array(
        (np.ones(count + len(single)), (np.concatenate([job, single]), np.arange(count + len(single)))),
    )
    minutes = csr_array((sample.minutes[job], (day, np.arange(count))), shape=(len(sample.room), count + len(single)))
    found = linprog(cost, A_ub=minutes, b_ub=sample.room, A_eq=once, b_eq=np.ones(len(single)), method="highs")
    return None if found.x is None else (np.maximum(-found.ineqlin.marginals, 0.0), found.eqlin.marginals)


def _needed_days(offer: Offer, some: Ints, share: float) -> Ints:
    """Return the days that the jobs can need: twice their minutes from the day on which the last becomes possible."""
    first = int(offer.may[some].argmax(axis=1).max())
    later = np.cumsum(np.where(np.arange(len(offer.room)) >= first, offer.room, 0.0)) * share
    enough = int(np.searchsorted(later, 2 * offer.minutes[some].sum())) + 1
    days = np.arange(len(offer.room))
    kept: Ints = days[(offer.room > 0) & (days <= enough)]
    return kept
