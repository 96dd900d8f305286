"""The programme that buys: latest orders, stock first, and the bound it proves."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import milp

from pipeline.order.buying import Batch, Needs, buy
from pipeline.programme.orders import Item

_FIRST = np.datetime64("2026-10-05", "D")
_LONG = np.timedelta64(365, "D")


def _needs(packs, item=None, stock=(), transfer=None, life=_LONG):
    table = np.array(packs, dtype=float)
    starts = _FIRST + 7 * np.arange(table.shape[1])
    return Needs(table, starts, list(stock), life, item or Item(), transfer)


def test_an_order_is_as_late_as_it_can_be():
    assert buy(_needs([[3, 4, 5]], Item(pallet=10))).ordered.tolist() == [[10, 0, 10]]
    assert buy(_needs([[0, 0, 5]], Item(pallet=10))).ordered.tolist() == [[0, 0, 10]]


def test_of_two_pooled_yards_the_one_that_needs_more_buys():
    bought = buy(_needs([[2], [7]], Item(pallet=10, price=1), transfer=1))
    assert bought.ordered.tolist() == [[0], [10]]
    assert (bought.received.tolist(), bought.sent.tolist()) == ([[2], [0]], [[0], [2]])


def test_a_long_row_of_weeks_is_bought_with_a_proof():
    packs = [[(7 * week) % 23 for week in range(26)]]
    bought = buy(_needs(packs, Item(pallet=40, price=14.5)))
    # the fewest pallets that hold all of them
    pallets = np.ceil(np.sum(packs) / 40)
    assert bought.cost == bought.bound == pytest.approx(pallets * 40 * 14.5)
    # in no week is there less than was needed until then
    assert (bought.ordered.cumsum() >= np.cumsum(packs)).all()


def test_the_same_needs_give_the_same_orders():
    needs = _needs([[5, 2, 8, 1], [3, 3, 3, 3]], Item(pallet=6, price=2), transfer=2)
    one, other = buy(needs), buy(needs)
    assert np.array_equal(one.ordered, other.ordered)
    assert np.array_equal(one.received, other.received)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(0, 12), min_size=1, max_size=5), st.integers(0, 40))
def test_stock_is_used_before_anything_is_bought(packs, on_hand):
    stock = [Batch(0, float(on_hand), _FIRST, _FIRST + _LONG)]
    bought = buy(_needs([packs], stock=stock))
    assert bought.ordered.sum() == max(sum(packs) - on_hand, 0)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(0, 9), min_size=2, max_size=5), st.integers(1, 20), st.integers(1, 8))
def test_a_shorter_shelf_life_never_needs_fewer_packs(packs, days, pallet):
    long, short = (
        buy(_needs([packs], Item(pallet=pallet), life=np.timedelta64(life, "D"))).cost for life in (days + 30, days)
    )
    assert short >= long >= sum(packs)


def test_a_search_that_ends_before_it_has_found_anything_goes_on_with_more_branches(monkeypatch):
    asked = []

    def after_many(aim, *, options, **more):
        asked.append(options.get("node_limit"))
        return SimpleNamespace(x=None) if options.get("node_limit") == 50 else milp(aim, options=options, **more)

    monkeypatch.setattr("pipeline.order.buying.milp", after_many)
    assert buy(_needs([[3.0, 4.0]]), tidy=False).ordered.sum() == 7
    assert asked == [50, 5000]
