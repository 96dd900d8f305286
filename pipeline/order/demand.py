"""What each yard needs of each item in each period: the packs of the plan, and the safety stock beyond them."""

from collections.abc import Collection, Iterable

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.order.lines import item_of
from pipeline.programme.orders import NO_YARD, Ordering

__all__ = ["demand_of", "yards_asked_for"]


def demand_of(
    lines: pd.DataFrame, starts: pd.Series, safety: pd.DataFrame, ordering: Ordering, with_stock: Collection[str] = ()
) -> pd.DataFrame:
    """Return the packs by yard, item and period.

    Parameters
    ----------
    lines
        ORDER_COLUMNS; water has no packs and is not bought.
    starts
        First day of each period, by its name.
    safety
        ``district``, ``shade``, ``safety_stock``: bags beyond the bags to mix.
    ordering
        The yard of each district.
    with_stock
        Yards that have stock.

    Returns
    -------
    pandas.DataFrame
        ``yard``, ``item``, ``period``, ``period_start``, ``packs`` and ``safety_stock``, in whole packs. The safety
        stock of a district is rounded up once and spread over its periods in proportion to their packs; without any
        planned bags of that shade, it is due in the first period.
    """
    packed = lines[lines["packs"].notna()].astype({"packs": float})
    spread = _spread_over_periods(packed, starts, safety)
    both = pd.concat([packed.assign(safety_stock=0.0), spread], ignore_index=True)
    yards = {name: ordering.supplier_of(name, with_stock) for name in both["district"].unique()}
    sums = both.assign(yard=both["district"].map(yards).astype("str")).groupby(["yard", "item", "period"], sort=True)
    return (
        sums[["packs", "safety_stock"]]
        .sum()
        .reset_index()
        .merge(starts.rename("period_start"), left_on="period", right_index=True, how="left", validate="many_to_one")
    )


def _spread_over_periods(packed: pd.DataFrame, starts: pd.Series, safety: pd.DataFrame) -> pd.DataFrame:
    """Return ``district``, ``item``, ``period``, ``packs`` (none) and ``safety_stock``: whole bags that add up."""
    names = ["district", "item", "period"]
    spread = packed.iloc[:0][names].assign(packs=0.0, safety_stock=0.0)
    if safety.empty or starts.empty:
        return spread
    by_time = packed.assign(start=packed["period"].map(starts)).sort_values(["start", "period"], kind="stable")
    at = by_time.groupby(names[:2]).indices
    period, packs = by_time["period"].to_numpy(), by_time["packs"].to_numpy(float)
    first = starts.sort_values(kind="stable").index[0]
    rows: list[tuple[str, str, str, float, float]] = []
    for district, shade, bags in safety[["district", "shade", "safety_stock"]].itertuples(index=False):
        whole = int(np.ceil(round(max(float(bags), 0.0), 9))) if np.isfinite(bags) else 0
        if whole == 0:
            continue
        item = item_of(shade)
        mine = at.get((district, item), np.empty(0, dtype=np.int64))
        if packs[mine].sum() == 0:
            rows.append((district, item, first, 0.0, float(whole)))
            continue
        parts = _whole_parts(whole, packs[mine])
        rows += [(district, item, when, 0.0, part) for when, part in zip(period[mine], parts, strict=True)]
    return pd.DataFrame(rows, columns=list(spread)).astype(spread.dtypes)


def _whole_parts(whole: int, packs: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return whole bags in proportion to the packs of some periods, adding up to ``whole``."""
    # what is rounded comes with the first bags that it is for
    until: npt.NDArray[np.float64] = np.ceil((whole * packs.cumsum() / packs.sum()).round(9))
    return np.diff(until, prepend=0.0)


def yards_asked_for(districts: Iterable[str], ordering: Ordering, with_stock: Collection[str]) -> list[str]:
    """Return the notice about districts that need packs and that no yard is named for, if there are any.

    A programme that names no yard, keeps no stock and has no pallets buys for one place: there is nothing to ask.
    """
    if not ordering.yards and not with_stock and all(item.pallet is None for item in ordering.items.values()):
        return []
    without = [name for name in sorted(set(districts)) if ordering.supplier_of(name, with_stock) == NO_YARD]
    if not without:
        return []
    names, need = ", ".join(f'"{name}"' for name in without), "they need" if len(without) > 1 else "it needs"
    notice = (
        f'[orders.yards] names no yard for {names}, so what {need} is listed under the yard "{NO_YARD}", in packs '
        f'without pallets. Add a line such as "{without[0]}" = "North yard".'
    )
    return [notice]
