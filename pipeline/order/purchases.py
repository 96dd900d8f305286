"""What to buy, for which yard, by when: needs by period against stock, lead time, shelf life and packing."""

import datetime as dt
import itertools
from collections.abc import Collection, Hashable, Iterator, Mapping
from dataclasses import dataclass
from math import ceil
from typing import Any, Final

import pandas as pd

from pipeline.contracts import INTAKE_TABLES, ORDER_TABLES, names_of
from pipeline.programme.orders import Item, Ordering

__all__ = ["PURCHASE_COLUMNS", "STOCK_COLUMNS", "plan_purchases"]

PURCHASE_COLUMNS: Final = names_of(ORDER_TABLES["purchases"])
STOCK_COLUMNS: Final = names_of(INTAKE_TABLES["stock"])
# a sum that misses a whole pack by a rounding error is that whole pack
_DIGITS: Final = 9
_FOR_EVER: Final = pd.Timedelta(days=50_000)


@dataclass
class _Batch:
    packs: float
    arrives: pd.Timestamp
    expires: pd.Timestamp


def plan_purchases(
    demand: pd.DataFrame, stock: pd.DataFrame, keeps: Collection[str], ordering: Ordering, as_of: dt.date
) -> pd.DataFrame:
    """Plan the purchases of every yard and item, one row per period.

    Parameters
    ----------
    demand
        ``yard``, ``item``, ``period``, ``period_start``, ``packs`` (planned) and ``safety_stock`` (packs beyond them),
        one row each; without a start it is due at once.
    stock
        STOCK_COLUMNS: packs on hand (no ``arrives_on``) or on their way; without ``expires_on`` they count as fresh.
    keeps
        Items without a shelf life, such as gravel; the others last ``shelf_life``.
    ordering
        Lead time, shelf life, packing, prices.
    as_of
        The day of the plan.

    Returns
    -------
    pandas.DataFrame
        PURCHASE_COLUMNS. Stock in the yard or on its way and packs left from earlier orders are used first, earliest
        expiry first. An order covers what its period lacks, rounded up to the minimum order and whole pallets:
        ``packs_left`` is what remains of all this for later periods, ``packs_expiring`` what passed its ``use_by``
        unused before the period began, ``late_days`` how many days ago the order should have been placed.
    """
    today = pd.Timestamp(as_of)
    on_hand = dict(list(stock.groupby(["yard", "item"])))
    begins = pd.to_datetime(demand["period_start"]).fillna(today)
    # a period that has begun, or has no date, begins today
    by_time = ["yard", "item", "start", "period"]
    timed = demand.assign(start=begins.where(begins.ge(today), today)).sort_values(by_time, kind="stable")
    rows: list[dict[str, object]] = []
    for (yard, item), periods in itertools.groupby(
        timed.to_dict("records"), key=lambda period: (str(period["yard"]), str(period["item"]))
    ):
        life = _FOR_EVER if item in keeps else pd.Timedelta(days=ordering.shelf_life_days)
        batches = _batches(on_hand.get((yard, item)), life, today)
        rows += _purchases(periods, batches, ordering.packing_of(item), life, ordering, today)
    frame = pd.DataFrame(rows, columns=list(PURCHASE_COLUMNS))
    priced = frame["cost"].notna().any()
    return frame if priced else frame.drop(columns=["cost", "currency"])


def _batches(stock: pd.DataFrame | None, life: pd.Timedelta, today: pd.Timestamp) -> list[_Batch]:
    batches = []
    for row in [] if stock is None else stock.to_dict("records"):
        arrives = today if pd.isna(row["arrives_on"]) else pd.Timestamp(row["arrives_on"])
        expires = arrives + life if pd.isna(row["expires_on"]) else pd.Timestamp(row["expires_on"])
        batches.append(_Batch(float(row["packs"]), arrives, expires))
    return batches


def _purchases(
    periods: Iterator[Mapping[Hashable, Any]],
    batches: list[_Batch],
    packing: Item,
    life: pd.Timedelta,
    ordering: Ordering,
    today: pd.Timestamp,
) -> Iterator[dict[str, object]]:
    """Yield one row per period of a yard's item, in time; ``batches`` is what the yard holds before the first."""
    for period in periods:
        start, planned, safety = pd.Timestamp(period["start"]), float(period["packs"]), float(period["safety_stock"])
        spoiled = sum((batch.packs for batch in batches if batch.expires < start), 0.0)
        batches = [batch for batch in batches if batch.expires >= start and batch.packs > 0]
        lacking = round(planned + safety, _DIGITS)
        from_stock = 0.0
        for batch in sorted(batches, key=lambda batch: (batch.expires, batch.arrives)):
            if batch.arrives <= start:
                taken = min(batch.packs, lacking)
                batch.packs, lacking, from_stock = batch.packs - taken, lacking - taken, from_stock + taken
        bought = _bought(lacking, packing)
        if bought:
            batches.append(_Batch(bought - lacking, start, start + life))
        order_by = start - pd.Timedelta(days=ordering.lead_time_days)
        yield {
            "yard": period["yard"],
            "item": period["item"],
            "period": period["period"],
            "needed_from": start,
            "order_by": order_by if bought else pd.NaT,
            "late_days": max((today - order_by).days, 0) if bought else 0,
            "packs_planned": planned,
            "packs_safety_stock": safety,
            "packs_from_stock": from_stock,
            "packs_ordered": bought,
            "pallets": bought / packing.pallet,
            "packs_left": sum((batch.packs for batch in batches), 0.0),
            "packs_expiring": spoiled,
            "use_by": start + life if bought and life != _FOR_EVER else pd.NaT,
            "cost": None if packing.price is None else bought * packing.price,
            "currency": ordering.currency,
        }


def _bought(lacking: float, packing: Item) -> int:
    """Return the packs to buy: those lacking, rounded up to whole packs, the minimum order and whole pallets."""
    if round(lacking, _DIGITS) <= 0:
        return 0
    packs = max(ceil(round(lacking, _DIGITS)), packing.minimum)
    return ceil(packs / packing.pallet) * packing.pallet
