"""Order: the needs of the open cores in whole bags, by district and period, and what to buy for them."""

import datetime as dt
from typing import Final, Literal, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import NO_DISTRICT
from pipeline.order.costs import NOTHING_PRICED, Spending, costs_of, refuse_unusable_budget
from pipeline.order.demand import demand_of, yards_asked_for
from pipeline.order.lines import order_lines
from pipeline.order.loads import crew_loads
from pipeline.order.periods import periods_of, written
from pipeline.order.purchases import STOCK_COLUMNS, Purchases, plan_purchases
from pipeline.order.safety_stock.simulate import SafetyStock, simulate_safety_stock
from pipeline.order.safety_stock.volume_model import Calibrated, Covariance
from pipeline.programme.catalogue import Catalogue, Materials
from pipeline.programme.orders import Ordering

__all__ = ["STOCK_COLUMNS", "Orders", "Spending", "order", "refuse_unusable_budget"]

# millimetres each, and their covariance
_KerfAndBed = tuple[float, float, tuple[tuple[float, float], tuple[float, float]]]
# a sum that misses a whole bag by a rounding error is that whole bag
_DIGITS: Final = 9
_USUAL_LEVELS: Final = (0.9, 0.95, 0.99)
# the standard error of a quantile that this leaves is in its own column
_SIMULATIONS: Final = 1000
# the columns used here, of the many that a core has by now
_COLUMNS: Final = [
    "row", "core_id", "is_open", "is_copy", "is_thin", "district", "surface", "reinstatable", "shade", "bedding",
    "hole_mm", "depth_believed_mm", "bags", "grout_kg", "water_l_needed", "gravel_kg", "core_kg", "state", "urgency",
]  # fmt: skip


class Orders(NamedTuple):
    """What to order.

    ``lines``: one row per district, period and item, ORDER_COLUMNS. ``left_out``: ``district``, ``reason``, ``cores``:
    open cores that nothing is ordered for. ``cores_left_out``: ``reason`` and ``core_id`` of each of these.
    ``cores``: number of cores that the lines cover. ``sharing``: one row per district, period and shade: ``cores``,
    ``needed``, ``alone``, ``shared``, all in bags. ``plan``: on the index of the cores covered: ``day``, ``period``,
    ``period_start``, ``visit``, ``mix``, ``bags_mixed``. ``purchases`` and ``loads``: see their modules.
    ``safety_stock``: one row per district and shade, SAFETY_STOCK_COLUMNS, in bags, at the programme's service level.
    ``service_levels``: the programme's totals at several service levels, one row per level and shade (no shade: all
    shades). ``survey_round``: what the cores of unknown size or surface may need beyond all this. ``costs``: what the
    plan and the open cores cost, or how much of it there is; ``budget``: the forecast beside the budget.
    ``purchase_totals``: one row per item, what is bought beside what is planned. ``notices``: what the programme is
    asked for.
    """

    lines: pd.DataFrame
    left_out: pd.DataFrame
    cores_left_out: pd.DataFrame
    cores: int
    sharing: pd.DataFrame
    plan: pd.DataFrame
    purchases: pd.DataFrame
    loads: pd.DataFrame
    safety_stock: pd.DataFrame
    service_levels: pd.DataFrame
    survey_round: pd.DataFrame
    costs: pd.DataFrame
    budget: pd.DataFrame
    purchase_totals: pd.DataFrame
    notices: list[str]

    @property
    def unshared_bags(self) -> dict[str, int]:
        """Bags of each shade if every core had a mix of its own."""
        alone = self.sharing.groupby("shade")["alone"].sum()
        return {str(shade): int(np.ceil(bags)) for shade, bags in alone.items()}


def order(
    cores: pd.DataFrame,
    stops: pd.DataFrame,
    catalogue: Catalogue,
    ordering: Ordering | None = None,
    as_of: dt.date = dt.date(2000, 1, 1),
    stock: pd.DataFrame | None = None,
    diameter_is: Literal["hole", "core"] = "hole",
    kerf_and_bed: tuple[float, float, Covariance] | None = None,
    spending: Spending | None = None,
) -> Orders:
    """Add up the needs of the open cores, flagged ones included; a core in several rows is ordered for once.

    Parameters
    ----------
    cores
        N rows with the columns that this file's head lists.
    stops
        What the plan does at which core: PLAN_TABLES' ``stops``.
    catalogue, ordering
        Sizes of bags and packs; periods, mixing and packing, None: the defaults.
    as_of, stock
        The day of the audit; what the yards have, STOCK_COLUMNS, None: nothing.
    diameter_is
        Whether the register's diameters are of the hole or of the core.
    kerf_and_bed
        Kerf and bed from records of use in millimetres, with their covariance; None: their ranges in the catalogue.
    spending
        What has a price, what may be spent, and the horizon; None: nothing has a price.
    """
    ordering, spending = ordering or Ordering(), spending or NOTHING_PRICED
    spent = costs_of(cores, stops, ordering, spending, as_of)
    chances = [name for name in map(str, cores) if name.startswith("shade_") and name.endswith("_chance")]
    cores = cores.loc[~cores["is_copy"], [*_COLUMNS, *chances]]
    open_cores = cores.assign(district=cores["district"].fillna(NO_DISTRICT))[cores["is_open"]]
    known = open_cores["bags"].notna()
    to_supply = _to_supply(open_cores[known], stops, ordering, as_of)
    shared = _sharing(to_supply, ordering.smallest_mix, ["district", "period"])
    lines = order_lines(to_supply, shared, catalogue.materials)
    safety = _safety_stock(cores, open_cores, to_supply, catalogue.materials, ordering, diameter_is, kerf_and_bed)
    plan = to_supply[["day", "period", "period_start", "visit", "mix"]].assign(bags_mixed=to_supply["bags_opened"])
    purchases, notices = _bought(
        lines, plan, safety.lines, catalogue.materials, ordering, as_of, stock, spending.costs.transfer
    )
    left_out = _cores_left_out(open_cores.drop(index=to_supply.index))
    return Orders(
        lines=lines, left_out=_by_reason(left_out), cores_left_out=left_out[["reason", "core_id"]],
        cores=len(to_supply), sharing=shared, plan=plan,
        purchases=purchases.lines, loads=crew_loads(to_supply, catalogue), safety_stock=safety.lines,
        service_levels=safety.levels, survey_round=safety.survey, costs=spent.costs, budget=spent.budget,
        purchase_totals=purchases.totals, notices=notices,
    )  # fmt: skip


def _bought(
    lines: pd.DataFrame,
    plan: pd.DataFrame,
    safety: pd.DataFrame,
    materials: Materials,
    ordering: Ordering,
    as_of: dt.date,
    stock: pd.DataFrame | None,
    transfer: float | None,
) -> tuple[Purchases, list[str]]:
    """Return what to buy for the lines and the safety stock, and what the programme is asked for."""
    starts = plan.drop_duplicates("period").set_index("period")["period_start"]
    on_hand = pd.DataFrame(columns=list(STOCK_COLUMNS)) if stock is None else stock
    with_stock = on_hand["yard"].unique().tolist()
    demand = demand_of(lines, starts, safety, ordering, with_stock)
    purchases = plan_purchases(demand, on_hand, set(materials.bedding), ordering, as_of, transfer)
    return purchases, yards_asked_for([*lines["district"], *safety["district"]], ordering, with_stock)


def _to_supply(open_cores: pd.DataFrame, stops: pd.DataFrame, ordering: Ordering, as_of: dt.date) -> pd.DataFrame:
    """Return the cores that the plan puts back, with the day, crew, mix and bags of their stops, and their period."""
    mine = stops[stops["task"].eq("reinstate")]
    at = mine[["crew", "day", "stop", "mix", "bags", "net_bags"]].rename(columns={"bags": "bags_opened"})
    cores = open_cores.loc[mine.index].join(at)
    visit = written(cores["day"], "%Y-%m-%d") + ", " + cores["crew"]
    return cores.assign(**periods_of(cores["day"], ordering.period, as_of), visit=visit)


def _sharing(to_supply: pd.DataFrame, smallest: float, by: list[str]) -> pd.DataFrame:
    """Return the bags by ``by`` and shade: needed, without sharing, and to mix."""
    alone = np.ceil((to_supply["bags"] / smallest).round(_DIGITS)) * smallest
    groups = to_supply.assign(alone=alone).groupby([*by, "shade"], sort=True, as_index=False)
    return groups.agg(
        cores=("row", "size"), needed=("bags", "sum"), alone=("alone", "sum"), shared=("bags_opened", "sum")
    )


def _safety_stock(
    cores: pd.DataFrame,
    open_cores: pd.DataFrame,
    to_supply: pd.DataFrame,
    materials: Materials,
    ordering: Ordering,
    diameter_is: Literal["hole", "core"],
    kerf_and_bed: tuple[float, float, Covariance] | None,
) -> SafetyStock:
    """Return the safety stock at the programme's service level, with the totals at the usual levels."""
    chances = [name for name in map(str, cores) if name.endswith("_chance")]
    columns = ["district", "shade", "bedding", "hole_mm", "depth_mm", "surface", *chances]
    planned = to_supply[to_supply["mix"].notna()]
    every = cores.assign(depth_mm=cores["depth_believed_mm"], district=cores["district"].fillna(NO_DISTRICT))
    unknown = open_cores["bags"].isna() & ~open_cores["is_thin"]
    # a core that cannot be reinstated needs nothing, whatever its size
    unknown &= open_cores["reinstatable"] | open_cores["surface"].eq("unknown")
    return simulate_safety_stock(
        planned.assign(depth_mm=planned["depth_believed_mm"], bags=planned["bags_opened"])[[*columns, "mix", "bags"]],
        materials,
        diameter_is,
        to_survey=every.loc[unknown.index[unknown], columns],
        history=every.loc[every[["hole_mm", "depth_mm"]].notna().all(axis="columns"), columns],
        smallest=ordering.smallest_mix,
        service_level=ordering.service_level,
        waste=ordering.waste,
        calibrated=None if kerf_and_bed is None else Calibrated(*kerf_and_bed),
        further_levels=_USUAL_LEVELS,
        simulations=_SIMULATIONS,
    )


def _cores_left_out(cores: pd.DataFrame) -> pd.DataFrame:
    """Return ``district``, ``reason`` and ``core_id`` of the open cores that nothing is ordered for."""
    reason = np.select(
        [cores["bags"].notna(), cores["surface"].eq("unknown"), ~cores["reinstatable"], cores["is_thin"]],
        [
            # why not is with the plan
            "not planned",
            "surface unknown",
            "surface not suitable for core reinstatement",
            "pavement too thin for core reinstatement",
        ],
        "diameter or depth missing or implausible",
    )
    table = cores.assign(reason=pd.Series(reason, cores.index, dtype="str"))
    return table[["district", "reason", "core_id"]].sort_values(["reason", "district"], kind="stable")


def _by_reason(left_out: pd.DataFrame) -> pd.DataFrame:
    """Return the number and the ids of cores that are left out, by district and reason."""
    groups = left_out.fillna({"core_id": "(no id)"}).groupby(["district", "reason"])["core_id"]
    return groups.agg(cores="size", core_ids="; ".join).reset_index().astype({"core_ids": "str"})
