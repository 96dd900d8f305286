"""Order: the needs of the open cores in whole bags, by district and period, and what to buy for them."""

import datetime as dt
from typing import Final, Literal, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import NO_DISTRICT
from pipeline.order.lines import item_of, order_lines
from pipeline.order.loads import NO_CREW, crew_loads
from pipeline.order.mixes.sharing import Sharing, share_mixes
from pipeline.order.periods import plan_cores, written
from pipeline.order.purchases import STOCK_COLUMNS, plan_purchases
from pipeline.order.safety_stock.simulate import SafetyStock, simulate_safety_stock
from pipeline.programme.catalogue import Catalogue, Materials
from pipeline.programme.orders import Ordering

__all__ = ["STOCK_COLUMNS", "Orders", "order"]

_USUAL_LEVELS: Final = (0.9, 0.95, 0.99)
# the standard error of a quantile that this leaves is in its own column
_SIMULATIONS: Final = 1000
# the columns used here, of the many that a core has by now
_COLUMNS: Final = [
    "row", "core_id", "is_open", "is_copy", "is_thin", "district", "surface", "reinstatable", "shade", "bedding",
    "crew", "planned_on", "opened_on", "allowed_days", "segment_id", "chainage_m", "x_m", "y_m", "hole_mm",
    "depth_believed_mm", "bags", "grout_kg", "water_l_needed", "gravel_kg", "core_kg", "state", "urgency",
]  # fmt: skip


class Orders(NamedTuple):
    """What to order.

    ``lines``: one row per district, period and item, ORDER_COLUMNS. ``left_out``: ``district``, ``reason``, ``cores``:
    open cores that nothing is ordered for. ``cores``: number of cores that the lines cover. ``sharing``: one row per
    district, period and shade: ``cores``, ``needed``, ``alone``, ``shared``, ``bound``, all in bags, and whether
    ``shared`` ``is_fewest``. ``plan``: on the index of the cores covered: ``day``, ``planned_by``, ``period``,
    ``period_start``, ``visit``, ``mix``, ``bags_mixed``. ``purchases`` and ``loads``: see their modules.
    ``safety_stock``: one row per district and shade, SAFETY_STOCK_COLUMNS, in bags mixed, at the programme's service
    level. ``service_levels``: the programme's totals at several service levels, one row per level and shade (no shade:
    all shades).
    """

    lines: pd.DataFrame
    left_out: pd.DataFrame
    cores: int
    sharing: pd.DataFrame
    plan: pd.DataFrame
    purchases: pd.DataFrame
    loads: pd.DataFrame
    safety_stock: pd.DataFrame
    service_levels: pd.DataFrame

    @property
    def unshared_bags(self) -> dict[str, int]:
        """Bags of each shade if every core had a mix of its own."""
        alone = self.sharing.groupby("shade")["alone"].sum()
        return {str(shade): int(np.ceil(bags)) for shade, bags in alone.items()}


def order(
    cores: pd.DataFrame,
    catalogue: Catalogue,
    ordering: Ordering | None = None,
    as_of: dt.date = dt.date(2000, 1, 1),
    stock: pd.DataFrame | None = None,
    diameter_is: Literal["hole", "core"] = "hole",
) -> Orders:
    """Add up the needs of the open cores, flagged ones included; a core in several rows is ordered for once.

    Parameters
    ----------
    cores
        N rows with ``is_open``, ``is_copy``, ``is_thin``, ``district``, ``surface``, ``reinstatable``, ``shade``,
        ``bedding``, ``crew``, the dates, the position, ``allowed_days`` and the need columns.
    catalogue
        Sizes of bags and packs.
    ordering
        Periods, sharing and packing; None: the defaults.
    as_of
        First day of the plan.
    stock
        What the yards have, STOCK_COLUMNS; None: nothing.
    diameter_is
        Whether the register's diameters are of the hole or of the core.
    """
    ordering = ordering or Ordering()
    chances = [name for name in map(str, cores) if name.startswith("shade_") and name.endswith("_chance")]
    cores = cores.loc[~cores["is_copy"], [*_COLUMNS, *chances]]
    open_cores = cores.assign(
        district=cores["district"].fillna(NO_DISTRICT), crew=cores["crew"].str.strip().fillna(NO_CREW)
    )[cores["is_open"]]
    known = open_cores["bags"].notna()
    to_supply = _with_visits(open_cores[known], ordering, as_of)
    sharing = share_mixes(to_supply, ordering.reach_m, ordering.smallest_mix)
    visits, shared = _by_visit_and_period(sharing, to_supply)
    lines = order_lines(to_supply, shared, catalogue.materials)
    safety = _safety_stock(cores, open_cores, shared, catalogue.materials, ordering, diameter_is)
    plan = to_supply[["day", "planned_by", "period", "period_start", "visit"]]
    starts = plan.drop_duplicates("period").set_index("period")["period_start"]
    on_hand = pd.DataFrame(columns=list(STOCK_COLUMNS)) if stock is None else stock
    return Orders(
        lines,
        _left_out(open_cores[~known]),
        len(to_supply),
        shared,
        plan.assign(mix=sharing.mix, bags_mixed=sharing.bags_mixed_share),
        plan_purchases(
            _demand(lines, starts, ordering, safety.lines), on_hand, set(catalogue.materials.bedding), ordering, as_of
        ),
        crew_loads(to_supply, visits, catalogue, as_of),
        safety.lines,
        safety.levels,
    )


def _with_visits(to_supply: pd.DataFrame, ordering: Ordering, as_of: dt.date) -> pd.DataFrame:
    """Add when each core is due, and its visit: a mix cannot wait for another day or another crew."""
    plan = plan_cores(to_supply, ordering, as_of)
    when = written(plan["day"], "%Y-%m-%d").where(plan["planned_by"].isin(["plan", "due date"]), plan["period"])
    return to_supply.assign(**plan, visit=when + ", " + to_supply["district"] + ", " + to_supply["crew"])


def _by_visit_and_period(sharing: Sharing, to_supply: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the bags by visit and shade, and by district, period and shade."""
    where = to_supply.drop_duplicates("visit").set_index("visit")[["district", "period"]]
    visits = sharing.groups.drop(columns="district").join(where, on="visit", validate="many_to_one")
    return visits, visits.groupby(["district", "period", "shade"], sort=True, as_index=False).agg(
        cores=("cores", "sum"),
        needed=("needed", "sum"),
        alone=("alone", "sum"),
        shared=("shared", "sum"),
        bound=("bound", "sum"),
        is_fewest=("is_fewest", "all"),
    )


def _safety_stock(
    cores: pd.DataFrame,
    open_cores: pd.DataFrame,
    sharing: pd.DataFrame,
    materials: Materials,
    ordering: Ordering,
    diameter_is: Literal["hole", "core"],
) -> SafetyStock:
    """Return the safety stock at the programme's service level, with the totals at the usual levels."""
    sized = open_cores.assign(depth_mm=open_cores["depth_believed_mm"])
    # a core that cannot be reinstated needs nothing, whatever its size
    able = sized[sized["reinstatable"] & ~sized["is_thin"]]
    history = cores.assign(depth_mm=cores["depth_believed_mm"], district=cores["district"].fillna(NO_DISTRICT))
    history = history[history[["hole_mm", "depth_mm"]].notna().all(axis="columns")]
    sums = sharing.groupby(["district", "shade"])[["needed", "shared"]].sum()
    chances = [name for name in map(str, cores) if name.endswith("_chance")]
    columns = ["district", "shade", "bedding", "hole_mm", "depth_mm", *chances]
    return simulate_safety_stock(
        able[columns],
        history[["district", "hole_mm", "depth_mm"]],
        materials,
        diameter_is,
        service_level=ordering.service_level,
        waste=ordering.waste,
        mixed_per_needed=sums["shared"] / sums["needed"],
        further_levels=_USUAL_LEVELS,
        simulations=_SIMULATIONS,
    )


def _demand(lines: pd.DataFrame, starts: pd.Series, ordering: Ordering, safety: pd.DataFrame) -> pd.DataFrame:
    """Return packs by yard, item and period; those of grout with their district's safety stock, spread by need."""
    packed = lines[lines["packs"].notna()]
    beyond = (safety["safety_stock"] / safety["expected"]).clip(lower=0)
    by_item = dict(zip(zip(safety["district"], safety["shade"].map(item_of), strict=True), beyond, strict=True))
    share = [by_item.get(key, 0.0) for key in zip(packed["district"], packed["item"], strict=True)]
    yard = packed["district"].map({name: ordering.yard_of(name) for name in packed["district"].unique()}).astype("str")
    packs = packed["packs"].astype(float)
    return (
        packed.assign(yard=yard, packs=packs, safety_stock=packs * share)
        .groupby(["yard", "item", "period"], sort=True, as_index=False)[["packs", "safety_stock"]]
        .sum()
        .merge(starts, left_on="period", right_index=True, how="left", validate="many_to_one")
    )


def _left_out(cores: pd.DataFrame) -> pd.DataFrame:
    """Count the open cores that nothing is ordered for, by district and reason."""
    reason = np.select(
        [cores["surface"].eq("unknown"), ~cores["reinstatable"], cores["is_thin"]],
        [
            "surface unknown",
            "surface not suitable for core reinstatement",
            "pavement too thin for core reinstatement",
        ],
        "diameter or depth missing or implausible",
    )
    table = pd.DataFrame({"district": cores["district"], "reason": pd.Series(reason, cores.index, dtype="str")})
    return table.groupby(["district", "reason"]).size().rename("cores").reset_index()
