"""What to buy, for which yard, by when: needs by period against stock, lead time, shelf life and packing."""

import datetime as dt
import itertools
from dataclasses import dataclass
from math import ceil
from typing import Final

import pandas as pd

from pipeline.programme.orders import Item, Ordering

__all__ = ["PURCHASE_COLUMNS", "STOCK_COLUMNS", "plan_purchases"]

PURCHASE_COLUMNS: Final = (
    "yard", "item", "period", "needed_from", "order_by", "late_days", "packs_planned", "packs_reserve",
    "packs_from_stock", "packs_ordered", "pallets", "packs_left", "packs_expiring", "use_by", "cost", "currency",
)  # fmt: skip
STOCK_COLUMNS: Final = ("yard", "item", "packs", "arrives_on", "expires_on")
# a sum that misses a whole pack by a rounding error is that whole pack
_DIGITS: Final = 9
_FOR_EVER: Final = pd.Timedelta(days=50_000)


@dataclass
class _Batch:
    packs: float
    arrives: pd.Timestamp
    expires: pd.Timestamp


def plan_purchases(
    demand: pd.DataFrame, stock: pd.DataFrame, keeps: dict[str, bool], ordering: Ordering, as_of: dt.date
) -> pd.DataFrame:
    """Plan the purchases of every yard and item, a row a period.

    Parameters
    ----------
    demand
        ``yard``, ``item``, ``period``, ``period_start``, ``packs`` (planned) and ``reserve`` (packs beside them), one
        row each; what has no date is wanted at once.
    stock
        STOCK_COLUMNS: packs on hand (no ``arrives_on``) or on their way; without ``expires_on`` they are taken for
        fresh.
    keeps
        Items that keep for ever, such as gravel; the others last ``shelf_life``.
    ordering
        Lead time, shelf life, packing, prices.
    as_of
        The day of the plan.

    Returns
    -------
    pandas.DataFrame
        PURCHASE_COLUMNS. What lies in the yard, is on its way or is left of an earlier pallet serves first, the first
        to expire before the others. An order holds what its period lacks, up to whole pallets and the fewest packs of
        an order, and never more: ``packs_left`` is what stays over from that for later periods, ``packs_expiring``
        what went past its ``use_by`` unused before the period began. ``late_days``: how many days too late the order
        is today.
    """
    today = pd.Timestamp(as_of)
    there = dict(list(stock.groupby(["yard", "item"])))
    rows: list[dict[str, object]] = []
    begins = pd.to_datetime(demand["period_start"]).fillna(today)
    # a period that has begun, or has no date, begins today
    by_time = ["yard", "item", "start", "period"]
    timed = demand.assign(start=begins.where(begins.ge(today), today)).sort_values(by_time, kind="stable")
    for (yard, item), wanted in itertools.groupby(
        timed.to_dict("records"), key=lambda one: (str(one["yard"]), str(one["item"]))
    ):
        pack = ordering.items.get(item, Item())
        life = _FOR_EVER if keeps.get(item, False) else pd.Timedelta(days=ordering.shelf_life_days)
        mine = there.get((yard, item))
        batches = [] if mine is None else _on_hand(mine, life, today)
        for one in wanted:
            start, planned, reserve = pd.Timestamp(one["start"]), float(one["packs"]), float(one["reserve"])
            spoiled = sum((batch.packs for batch in batches if batch.expires < start), 0.0)
            batches = [batch for batch in batches if batch.expires >= start and batch.packs > 0]
            lacking = round(planned + reserve, _DIGITS)
            served = 0.0
            for batch in sorted(batches, key=lambda batch: (batch.expires, batch.arrives)):
                if batch.arrives <= start:
                    taken = min(batch.packs, lacking)
                    batch.packs, lacking, served = batch.packs - taken, lacking - taken, served + taken
            bought = _bought(lacking, pack)
            if bought:
                batches.append(_Batch(bought - lacking, start, start + life))
            order_by = start - pd.Timedelta(days=ordering.lead_time_days)
            rows.append(
                {
                    "yard": yard,
                    "item": item,
                    "period": one["period"],
                    "needed_from": start,
                    "order_by": order_by if bought else pd.NaT,
                    "late_days": max((today - order_by).days, 0) if bought else 0,
                    "packs_planned": planned,
                    "packs_reserve": reserve,
                    "packs_from_stock": served,
                    "packs_ordered": bought,
                    "pallets": bought / pack.pallet,
                    "packs_left": sum((batch.packs for batch in batches), 0.0),
                    "packs_expiring": spoiled,
                    "use_by": start + life if bought and not keeps.get(item, False) else pd.NaT,
                    "cost": None if pack.price is None else bought * pack.price,
                    "currency": ordering.currency,
                }
            )
    frame = pd.DataFrame(rows, columns=list(PURCHASE_COLUMNS))
    priced = frame["cost"].notna().any()
    return frame if priced else frame.drop(columns=["cost", "currency"])


def _on_hand(stock: pd.DataFrame, life: pd.Timedelta, today: pd.Timestamp) -> list[_Batch]:
    batches = []
    for one in stock.to_dict("records"):
        arrives = today if pd.isna(one["arrives_on"]) else pd.Timestamp(one["arrives_on"])
        expires = arrives + life if pd.isna(one["expires_on"]) else pd.Timestamp(one["expires_on"])
        batches.append(_Batch(float(one["packs"]), arrives, expires))
    return batches


def _bought(lacking: float, pack: Item) -> int:
    """Whole packs: as many as are lacking, up to the fewest of an order and to whole pallets."""
    if round(lacking, _DIGITS) <= 0:
        return 0
    packs = max(ceil(round(lacking, _DIGITS)), pack.minimum)
    return ceil(packs / pack.pallet) * pack.pallet
