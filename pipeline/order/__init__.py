"""Order: the needs of the open cores in whole bags, by district and period, and what to buy for them."""

import datetime as dt
from typing import Final, Literal, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import NO_DISTRICT
from pipeline.order.lines import item_of, order_lines
from pipeline.order.loads import NO_CREW, crew_loads
from pipeline.order.mixes.sharing import share_mixes
from pipeline.order.periods import plan_cores, written
from pipeline.order.purchases import STOCK_COLUMNS, plan_purchases
from pipeline.order.reserve.simulate import Reserve, simulate_reserve
from pipeline.programme.catalogue import Catalogue, Materials
from pipeline.programme.orders import Ordering

__all__ = ["STOCK_COLUMNS", "Orders", "order"]

_USUAL_LEVELS: Final = (0.9, 0.95, 0.99)
# the error that is left of a quantile stands beside it
_SIMULATIONS: Final = 1000
# of the many that a core has by now
_COLUMNS: Final = [
    "row", "core_id", "is_open", "is_copy", "is_thin", "district", "surface", "reinstatable", "shade", "bedding",
    "crew", "planned_on", "opened_on", "allowed_days", "segment_id", "chainage_m", "x_m", "y_m", "hole_mm",
    "depth_believed_mm", "bags", "grout_kg", "water_l_needed", "gravel_kg",
]  # fmt: skip


class Orders(NamedTuple):
    """What to order.

    ``lines``: one row a district, period and item, ORDER_COLUMNS. ``left_out``: ``district``, ``reason``, ``cores``:
    open cores whose need is not known. ``cores``: how many cores the lines serve. ``sharing``: one row a district,
    period and shade: ``cores``, ``needed``, ``alone``, ``shared``, ``bound``, all in bags, and whether ``shared``
    ``is_fewest``. ``plan``: on the index of the cores served: ``day``, ``planned_by``, ``period``, ``period_start``,
    ``visit``, ``mix``, ``bags_mixed``. ``purchases`` and ``loads``: see their modules. ``reserve``: RESERVE_COLUMNS
    at the service level, in bags as they are mixed, one row a district and shade. ``reserve_levels``: the programme's
    totals at several service levels, a row a level and shade (none: all shades).
    """

    lines: pd.DataFrame
    left_out: pd.DataFrame
    cores: int
    sharing: pd.DataFrame
    plan: pd.DataFrame
    purchases: pd.DataFrame
    loads: pd.DataFrame
    reserve: pd.DataFrame
    reserve_levels: pd.DataFrame

    @property
    def unshared_bags(self) -> dict[str, int]:
        """Bags of each shade if every core were given its own mix."""
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
    """Add up the needs of the open cores.

    Parameters
    ----------
    cores
        N rows with ``is_open``, ``is_copy``, ``is_thin``, ``district``, ``surface``, ``reinstatable``, ``shade``,
        ``bedding``, ``crew``, the dates, the position, ``allowed_days`` and the need columns; a core that is flagged
        but still open is ordered for as well.
    catalogue
        Sizes of bags and packs.
    ordering
        Periods, sharing, packing; None: as shipped.
    as_of
        First day of the plan.
    stock
        What yards have, STOCK_COLUMNS; None: nothing.
    diameter_is
        What the register's diameters measure; their model is uncertain with the kerf.
    """
    ordering = ordering or Ordering()
    chances = [name for name in map(str, cores) if name.startswith("shade_") and name.endswith("_chance")]
    cores = cores[[*_COLUMNS, *chances]]
    open_cores = cores.assign(
        district=cores["district"].fillna(NO_DISTRICT), crew=cores["crew"].str.strip().fillna(NO_CREW)
    )[cores["is_open"]]
    known = open_cores["bags"].notna()
    served = open_cores[known]
    plan = plan_cores(served, ordering, as_of)
    # a mix does not wait for another day or another crew
    when = written(plan["day"], "%Y-%m-%d").where(plan["planned_by"].isin(["plan", "due date"]), plan["period"])
    served = served.assign(**plan, visit=when + ", " + served["district"] + ", " + served["crew"])
    sharing = share_mixes(served, ordering.reach_m, ordering.smallest_part)
    whose = served.drop_duplicates("visit").set_index("visit")[["district", "period"]]
    visits = sharing.groups.drop(columns="district").join(whose, on="visit", validate="many_to_one")
    table = visits.groupby(["district", "period", "shade"], sort=True, as_index=False).agg(
        cores=("cores", "sum"),
        needed=("needed", "sum"),
        alone=("alone", "sum"),
        shared=("shared", "sum"),
        bound=("bound", "sum"),
        is_fewest=("is_fewest", "all"),
    )
    lines = order_lines(served, table, catalogue.materials)
    reserved = _reserve(cores, open_cores, table, catalogue.materials, ordering, diameter_is)
    nothing = pd.DataFrame(columns=list(STOCK_COLUMNS))
    starts = plan.drop_duplicates("period").set_index("period")["period_start"]
    demand = _demand(lines, starts, ordering, reserved.lines)
    gravel = dict.fromkeys(catalogue.materials.bedding, True)
    return Orders(
        lines,
        _left_out(open_cores[~known]),
        len(served),
        table,
        served[["day", "planned_by", "period", "period_start", "visit"]].assign(
            mix=sharing.mix, bags_mixed=sharing.bags_mixed_share
        ),
        plan_purchases(demand, nothing if stock is None else stock, gravel, ordering, as_of),
        crew_loads(served, visits, catalogue, as_of),
        reserved.lines,
        reserved.levels,
    )


def _reserve(
    cores: pd.DataFrame,
    open_cores: pd.DataFrame,
    sharing: pd.DataFrame,
    materials: Materials,
    ordering: Ordering,
    diameter_is: Literal["hole", "core"],
) -> Reserve:
    """The reserve at the service level asked for, with the totals at those that are usual beside."""
    sized = open_cores.assign(depth_mm=open_cores["depth_believed_mm"])
    # what cannot go back needs nothing, whatever its size
    able = sized[sized["reinstatable"] & ~sized["is_thin"] & ~sized["is_copy"]]
    history = cores.assign(depth_mm=cores["depth_believed_mm"], district=cores["district"].fillna(NO_DISTRICT))
    history = history[~history["is_copy"] & history[["hole_mm", "depth_mm"]].notna().all(axis="columns")]
    sums = sharing.groupby(["district", "shade"])[["needed", "shared"]].sum()
    chances = [name for name in map(str, cores) if name.endswith("_chance")]
    columns = ["district", "shade", "bedding", "hole_mm", "depth_mm", *chances]
    return simulate_reserve(
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


def _demand(lines: pd.DataFrame, starts: pd.Series, ordering: Ordering, reserve: pd.DataFrame) -> pd.DataFrame:
    """Packs by yard, item and period; of grout with the reserve of its district, spread over the periods by need."""
    packed = lines[lines["packs"].notna()]
    beyond = (reserve["reserve"] / reserve["expected"]).clip(lower=0)
    by_item = dict(zip(zip(reserve["district"], reserve["shade"].map(item_of), strict=True), beyond, strict=True))
    share = [by_item.get(key, 0.0) for key in zip(packed["district"], packed["item"], strict=True)]
    yard = packed["district"].replace(ordering.yards)
    packs = packed["packs"].astype(float)
    return (
        packed.assign(yard=yard, packs=packs, reserve=packs * share)
        .groupby(["yard", "item", "period"], sort=True, as_index=False)[["packs", "reserve"]]
        .sum()
        .merge(starts, left_on="period", right_index=True, how="left", validate="many_to_one")
    )


def _left_out(cores: pd.DataFrame) -> pd.DataFrame:
    reason = np.select(
        [cores["is_copy"], cores["surface"].eq("unknown"), ~cores["reinstatable"], cores["is_thin"]],
        [
            "the row stands twice and is counted once",
            "surface not known",
            "surface takes no core back",
            "pavement too thin for its core to go back",
        ],
        "diameter or depth not known or not to be believed",
    )
    table = pd.DataFrame({"district": cores["district"], "reason": pd.Series(reason, cores.index, dtype="str")})
    return table.groupby(["district", "reason"]).size().rename("cores").reset_index()
