"""Purchases against every possible plan of a small case, tried one by one.

Source: exhaustive enumeration, written here without the programme's model: every choice of orders for two yards and three
periods, with whatever may be moved, is played through day by day.
"""

import itertools

import numpy as np
import pytest

from pipeline.order.buying import Batch, Needs, buy
from pipeline.programme.orders import Item

_STARTS = np.array(["2026-10-05", "2026-10-12", "2026-10-19"], dtype="datetime64[D]")
_DAY = np.timedelta64(1, "D")


def _price(item, packs):
    price = 1.0 if item.price is None else item.price
    for one in item.price_breaks:
        price = one.price if packs >= one.least else price
    return price * packs


def _feasible(demand, orders, stock, life):
    """Whether one yard meets its demand, taking what expires first."""
    batches = [[expires, arrives, packs] for packs, arrives, expires in stock]
    for period, start in enumerate(_STARTS):
        if orders[period]:
            batches.append([start + life, start, orders[period]])
        lacking = demand[period]
        for batch in sorted(batches):
            if batch[1] <= start <= batch[0]:
                taken = min(batch[2], lacking)
                batch[2] -= taken
                lacking -= taken
        if lacking > 0:
            return False
    return True


def _sizes(item, most):
    """Return the packs that one order may have."""
    unit = item.pallet or 1
    return [0, *(packs for packs in range(unit, most + unit, unit) if packs >= item.minimum)]


def _cheapest(needs, most):
    sizes = _sizes(needs.packing, most)
    stock = [[(b.packs, b.arrives, b.expires) for b in needs.stock if b.yard == yard] for yard in (0, 1)]
    # how much each yard gets from the other in each period; a minus is given
    widest = int(needs.packs.max()) if needs.transfer is not None else 0
    moved = list(itertools.product(range(-widest, widest + 1), repeat=3))
    best = np.inf
    plans = [
        (sum(_price(needs.packing, packs) for packs in orders), orders) for orders in itertools.product(sizes, repeat=3)
    ]
    for move in moved:
        cost = sum(map(abs, move)) * (needs.transfer or 0) / (needs.packing.pallet or 1)
        of_yards = []
        for yard, sign in ((0, 1), (1, -1)):
            demand = [needs.packs[yard, period] - sign * move[period] for period in range(3)]
            if min(demand) < 0:
                break
            of_yards.append(
                min(
                    (price for price, orders in plans if _feasible(demand, orders, stock[yard], needs.life)),
                    default=np.inf,
                )
            )
        if len(of_yards) == 2:
            best = min(best, cost + sum(of_yards))
    return best


_CASES = {
    "whole pallets": ([[2, 1, 0], [1, 2, 2]], [], 180, {"pallet": 3}, None),
    "short life": ([[2, 1, 2], [1, 0, 3]], [], 6, {"pallet": 4, "price": 2.0}, None),
    "one week of life": ([[2, 1, 2], [1, 0, 3]], [], 7, {"pallet": 4, "price": 2.0}, None),
    "smallest order": ([[1, 1, 1], [2, 0, 1]], [], 180, {"minimum": 3, "price": 1.5}, None),
    "price break": ([[2, 1, 2], [1, 3, 1]], [], 180, {"price": 3.0, "price_breaks": [{"from": 4, "price": 2.0}]}, None),
    "break that expires": ([[2, 1, 2], [1, 3, 1]], [], 6, {"price": 3.0, "price_breaks": [{"from": 4, "price": 2.0}]}, None),
    "stock that expires": ([[2, 2, 1], [1, 1, 1]], [(0, 3, 0, 8), (1, 2, 7, 60)], 180, {"pallet": 2, "price": 1.0}, None),
    "moved for little": ([[1, 1, 0], [1, 0, 1]], [], 180, {"pallet": 4, "price": 2.0}, 1.0),
    "moved for much": ([[1, 1, 0], [1, 0, 1]], [], 180, {"pallet": 4, "price": 2.0}, 30.0),
    "stock moved": ([[2, 1, 1], [0, 1, 1]], [(1, 3, 0, 9)], 180, {"pallet": 2, "price": 2.0}, 0.5),
}  # fmt: skip


@pytest.mark.parametrize("name", _CASES)
def test_the_programme_finds_what_trying_everything_finds(name):
    packs, stock, life, item, transfer = _CASES[name]
    batches = [Batch(yard, n, _STARTS[0] + first * _DAY, _STARTS[0] + last * _DAY) for yard, n, first, last in stock]
    needs = Needs(np.array(packs, dtype=float), _STARTS, batches, life * _DAY, Item(**item), transfer)
    bought = buy(needs)
    assert bought.cost == pytest.approx(_cheapest(needs, 6))
    assert bought.bound == pytest.approx(bought.cost)
    # and what it found meets the needs, with what is moved
    own = needs.packs - bought.received + bought.sent
    for yard in (0, 1):
        mine = [(b.packs, b.arrives, b.expires) for b in batches if b.yard == yard]
        assert _feasible(own[yard], bought.ordered[yard], mine, needs.life)
