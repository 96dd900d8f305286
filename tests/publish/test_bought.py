"""What is bought beside what is planned, word by word."""

import pandas as pd
import pytest

from pipeline.contracts import ORDER_TABLES, names_of
from pipeline.publish.bought import bought_sentences
from pipeline.publish.words import words_of

_TOTAL = {
    "item": "grout dark", "packs_planned": 99, "packs_safety_stock": 10, "stock_used": 38, "packs_ordered": 80,
    "rounding_packs": 9, "packs_apart": 80, "packs_pooled": 70, "cost": 1160.0, "rounding_cost": 130.5,
    "cost_apart": 1160.0, "cost_pooled": 1100.0, "currency": "CAD", "measure": "cost", "gap": 0.0,
}  # fmt: skip
_FIRST = (
    "grout dark: 80 packs to buy: 99 for the plan, 10 as safety stock and 9 from rounding up to pallets and minimum "
    "orders, less 38 in stock."
)


def _said(*, pool=False, **changes):
    totals = pd.DataFrame([_TOTAL | changes]).reindex(columns=list(names_of(ORDER_TABLES["purchase_totals"])))
    (text,) = bought_sentences(totals, words_of("en"), pool=pool)
    return text


def test_an_item_with_a_price_says_what_rounding_costs_and_pooling_would_save():
    assert _said() == (f"{_FIRST} Rounding up costs 130.50 CAD. Pooling the yards would save 60.00 CAD (orders.pool).")


@pytest.mark.parametrize(
    ("changes", "end"),
    [
        ({"pool": True}, "Pooling the yards saves 60.00 CAD."),
        ({"measure": "packs", "cost_pooled": None}, "Pooling the yards would save 10 packs (orders.pool)."),
        ({"gap": 0.012}, "This is at most 1.2% above the lowest possible."),
        ({"cost_pooled": 1160.0}, "Rounding up costs 130.50 CAD."),
    ],
)
def test_what_applies_is_said_and_nothing_else(changes, end):
    assert _said(**changes).endswith(end)


def test_nothing_rounded_and_nothing_saved_is_one_sentence():
    assert _said(rounding_cost=0.0, cost_pooled=1160.0) == _FIRST
