"""What to buy, for which yard, by when: needs by period against stock, lead time, shelf life and packing."""

import datetime as dt
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from math import ceil
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import INTAKE_TABLES, ORDER_TABLES, names_of
from pipeline.order.buying import Batch, Bought, Needs, buy
from pipeline.programme.orders import NO_YARD, Item, Ordering

__all__ = ["PURCHASE_COLUMNS", "STOCK_COLUMNS", "TOTAL_COLUMNS", "Purchases", "plan_purchases"]

PURCHASE_COLUMNS: Final = names_of(ORDER_TABLES["purchases"])
TOTAL_COLUMNS: Final = names_of(ORDER_TABLES["purchase_totals"])
STOCK_COLUMNS: Final = names_of(INTAKE_TABLES["stock"])
_PRICED: Final = ["cost", "currency", "price", "rounding_cost", "transfer_cost"]
_FOR_EVER: Final = np.timedelta64(50_000, "D")
_DIGITS: Final = 9


class Purchases(NamedTuple):
    """``lines``: PURCHASE_COLUMNS, one row per yard, item and period. ``totals``: TOTAL_COLUMNS, one row per item."""

    lines: pd.DataFrame
    totals: pd.DataFrame


@dataclass
class _Batch:
    packs: float
    arrives: np.datetime64
    expires: np.datetime64
    line: int | None = None  # of the purchase; None for stock


class _Item(NamedTuple):
    """One item: its yards, periods, needs as planned and as a safety stock (Y by T), and how it is bought."""

    name: str
    yards: list[str]
    periods: list[str]
    planned: np.ndarray
    safety: np.ndarray
    needs: Needs


def plan_purchases(
    demand: pd.DataFrame,
    stock: pd.DataFrame,
    keeps: Collection[str],
    ordering: Ordering,
    as_of: dt.date,
    transfer: float | None = None,
) -> Purchases:
    """Plan the purchases of every yard and item.

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
        Lead time, shelf life, packing, prices, and whether yards are pooled.
    as_of
        The day of the plan.
    transfer
        Cost of moving a pallet from one yard to another, a pack of it in proportion; None: not known, counted as 0.

    Returns
    -------
    Purchases
        The purchases are the cheapest, or without a price the fewest packs; of several, the latest. Packs that expire
        first are used first. ``packs_left`` is what remains for later periods, ``packs_expiring`` what passed its
        ``use_by`` before the period began, ``rounding_packs`` what neither plan nor safety stock uses of the packs of
        the line's order, ``late_days`` how many days ago the order should have been placed.
    """
    today = np.datetime64(as_of, "D")
    rows: list[dict[str, object]] = []
    totals: list[dict[str, object]] = []
    for name in sorted(demand["item"].unique()):
        mine = demand[demand["item"].eq(name)]
        life = _FOR_EVER if name in keeps else np.timedelta64(int(ordering.shelf_life_days), "D")
        total: dict[str, float] = {}
        # districts without a yard have no store that could take a pallet, or supply another
        for is_named in (True, False):
            part = mine[mine["yard"].ne(NO_YARD) == is_named]
            if part.empty:
                continue
            item = _item(name, part, stock, _packing(ordering, name, is_named=is_named), life, today)
            bought, other = _apart_and_pooled(item.needs, transfer, pool=ordering.pool)
            lines = list(_lines(item, bought, ordering, today, transfer))
            rows += lines
            _add(total, lines, bought, other, is_pooled=ordering.pool)
        is_priced = ordering.packing_of(name).price is not None
        totals.append({"item": name, **_finished(total, ordering.currency, is_priced=is_priced)})
    lines_frame = pd.DataFrame(rows, columns=list(PURCHASE_COLUMNS)).sort_values(
        ["yard", "item", "needed_from", "period"], kind="stable", ignore_index=True
    )
    priced = lines_frame["cost"].notna().any()
    totals_frame = pd.DataFrame(totals, columns=list(TOTAL_COLUMNS))
    return Purchases(lines_frame if priced else lines_frame.drop(columns=_PRICED), totals_frame)


def _packing(ordering: Ordering, name: str, *, is_named: bool) -> Item:
    packing = ordering.packing_of(name)
    return packing if is_named else packing.model_copy(update={"pallet": None, "minimum": 1})


def _item(
    name: str, part: pd.DataFrame, stock: pd.DataFrame, packing: Item, life: np.timedelta64, today: np.datetime64
) -> _Item:
    """Return one item of some yards; a period that has begun, or has no date, begins today."""
    begins = part["period_start"].to_numpy().astype("datetime64[D]")
    begins = np.where(np.isnat(begins) | (begins < today), today, begins)
    timed = part.assign(start=begins)
    order = timed.drop_duplicates(["start", "period"]).sort_values(["start", "period"], kind="stable")
    periods, yards = order["period"].tolist(), sorted(part["yard"].unique())
    planned, safety = (
        part.pivot_table(index="yard", columns="period", values=value, aggfunc="sum", fill_value=0.0)
        .reindex(index=yards, columns=periods, fill_value=0.0)
        .to_numpy(float)
        for value in ("packs", "safety_stock")
    )
    batches = []
    for row in stock[stock["item"].eq(name) & stock["yard"].isin(yards)].to_dict("records"):
        arrives = today if pd.isna(row["arrives_on"]) else np.datetime64(pd.Timestamp(row["arrives_on"]), "D")
        expires = arrives + life if pd.isna(row["expires_on"]) else np.datetime64(pd.Timestamp(row["expires_on"]), "D")
        batches.append(Batch(yards.index(row["yard"]), float(row["packs"]), arrives, expires))
    starts = order["start"].to_numpy().astype("datetime64[D]")
    return _Item(name, yards, periods, planned, safety, Needs(planned + safety, starts, batches, life, packing))


def _apart_and_pooled(needs: Needs, transfer: float | None, *, pool: bool) -> tuple[Bought, Bought]:
    """Return what is bought, and what would be bought if yards were pooled, or if they were not."""
    pooled = needs._replace(transfer=transfer or 0.0)
    if len(needs.packs) == 1:
        alone = buy(needs)
        return alone, alone
    apart = _each(needs, tidy=not pool)
    # what is bought apart can be bought pooled too, so it is never dearer
    together = min(buy(pooled, tidy=pool), apart, key=lambda bought: bought.cost)
    together = together._replace(bound=min(together.bound, together.cost))
    return (together, apart) if pool else (apart, together)


def _each(needs: Needs, *, tidy: bool) -> Bought:
    """Return what is bought if each yard buys for itself."""
    mine = [
        buy(
            needs._replace(
                packs=needs.packs[[yard]],
                stock=[batch._replace(yard=0) for batch in needs.stock if batch.yard == yard],
            ),
            tidy=tidy,
        )
        for yard in range(len(needs.packs))
    ]
    return Bought(
        np.concatenate([one.ordered for one in mine]),
        np.concatenate([one.received for one in mine]),
        np.concatenate([one.sent for one in mine]),
        sum(one.cost for one in mine),
        sum(one.bound for one in mine),
    )


def _lines(
    item: _Item, bought: Bought, ordering: Ordering, today: np.datetime64, transfer: float | None
) -> Iterator[dict[str, object]]:
    """Yield one row per yard and period."""
    needs, packing = item.needs, item.needs.packing
    lead = np.timedelta64(ceil(ordering.lead_time_days), "D")
    for yard, name in enumerate(item.yards):
        batches = [_Batch(one.packs, one.arrives, one.expires) for one in needs.stock if one.yard == yard]
        used = needs.packs[yard] - bought.received[yard] + bought.sent[yard]
        mine = list(_used(needs, bought.ordered[yard], used, batches))
        for period, row in enumerate(mine):
            start, ordered = needs.starts[period], int(bought.ordered[yard, period])
            price = _price(packing, ordered)
            surplus = sum((batch.packs for batch in batches if batch.line == period), 0.0)
            received = bought.received[yard, period]
            yield {
                "yard": name,
                "item": item.name,
                "period": item.periods[period],
                "needed_from": pd.Timestamp(start),
                "order_by": pd.Timestamp(start - lead) if ordered else pd.NaT,
                "late_days": max(int((today - (start - lead)).astype(int)), 0) if ordered else 0,
                "packs_planned": item.planned[yard, period],
                "packs_safety_stock": item.safety[yard, period],
                **row,
                "packs_ordered": ordered,
                "pallets": np.nan if packing.pallet is None else ordered / packing.pallet,
                "use_by": pd.Timestamp(start + needs.life) if ordered and needs.life != _FOR_EVER else pd.NaT,
                "cost": None if price is None else ordered * price,
                "currency": ordering.currency,
                "rounding_packs": surplus,
                "transferred_in": received,
                "transferred_out": bought.sent[yard, period],
                "price": price,
                "rounding_cost": None if price is None else surplus * price,
                "transfer_cost": None if price is None else received * (transfer or 0.0) / (packing.pallet or 1),
            }


def _used(needs: Needs, ordered: np.ndarray, used: np.ndarray, batches: list[_Batch]) -> Iterator[dict[str, float]]:
    """Yield what a yard takes from stock in each period, what is left and what expires; ``batches`` change."""
    for period, start in enumerate(needs.starts):
        usable = [batch for batch in batches if batch.expires >= start]
        gone = needs.starts[period - 1] if period else start - _FOR_EVER
        spoiled = sum((batch.packs for batch in batches if gone <= batch.expires < start), 0.0)
        lacking, taken_before = float(used[period]), 0.0
        if ordered[period]:
            batches.append(_Batch(float(ordered[period]), start, start + needs.life, period))
            usable.append(batches[-1])
        for batch in sorted(usable, key=lambda one: (one.expires, one.arrives)):
            if batch.arrives <= start and lacking > 0:
                taken = min(batch.packs, lacking)
                batch.packs, lacking = round(batch.packs - taken, _DIGITS), round(lacking - taken, _DIGITS)
                taken_before += taken if batch.line != period else 0.0
        yield {
            "packs_from_stock": taken_before,
            "packs_left": float(sum(batch.packs for batch in usable)),
            "packs_expiring": float(spoiled),
        }


def _price(packing: Item, packs: int) -> float | None:
    """Return the price of a pack in an order of so many."""
    price = packing.price
    for one in packing.price_breaks:
        price = one.price if packs >= one.least else price
    return price


def _add(
    total: dict[str, float], lines: list[dict[str, object]], bought: Bought, other: Bought, *, is_pooled: bool
) -> None:
    """Add up the lines of an item, and what was bought beside what would be with the other way of supply."""
    pooled, apart = (bought, other) if is_pooled else (other, bought)
    frame = pd.DataFrame(lines)
    names = ("packs_planned", "packs_safety_stock", "packs_ordered", "rounding_packs", "cost", "rounding_cost")
    sums = {name: float(pd.to_numeric(frame[name]).sum()) for name in names}
    sums |= {
        "stock_used": sums["packs_planned"]
        + sums["packs_safety_stock"]
        + sums["rounding_packs"]
        - sums["packs_ordered"],
        "transfer_cost": float(pd.to_numeric(frame["transfer_cost"]).sum()),
        "value": bought.cost,
        "bound": bought.bound,
        "packs_apart": float(apart.ordered.sum()),
        "packs_pooled": float(pooled.ordered.sum()),
        "cost_apart": apart.cost,
        "cost_pooled": pooled.cost,
    }
    for name, value in sums.items():
        total[name] = total.get(name, 0.0) + value


def _finished(total: dict[str, float], currency: str | None, *, is_priced: bool) -> dict[str, object]:
    """Return a row of the totals: with its gap, and without costs where there is no price."""
    value, bound = total["value"], total["bound"]
    costs = ("cost", "rounding_cost", "transfer_cost", "cost_apart", "cost_pooled")
    return {
        **total,
        **({} if is_priced else dict.fromkeys(costs, np.nan)),
        "currency": currency if is_priced else None,
        "measure": "cost" if is_priced else "packs",
        "gap": round((value - bound) / bound, _DIGITS) if bound > 0 else np.nan,
    }
