"""What the report says of the plan: needs by period and district, order-by dates, bags saved by sharing."""

from typing import TYPE_CHECKING, Any, Final

import pandas as pd

from pipeline.publish.charts import curves

if TYPE_CHECKING:
    from pipeline.run import RunResult

__all__ = ["plan_of_orders"]

# more lines than a chart holds: the districts that need most, and all together
_MOST_LINES: Final = 5


def plan_of_orders(result: "RunResult") -> dict[str, Any]:
    """Return what the template shows of the orders' plan."""
    orders = result.orders
    if orders.sharing.empty:
        return {"plan_chart": None, "plan_rows": [], "sharing": None, "share_reach": "0"}
    bags = orders.sharing.pivot_table(index="period", columns="district", values="shared", aggfunc="sum").fillna(0)
    running = bags.cumsum()
    most = running.iloc[-1].sort_values(ascending=False, kind="stable").index[:_MOST_LINES]
    shown = running[list(most)].assign(**{"all districts": running.sum(axis="columns")})
    shown = shown.rename(columns=str).round().astype(int)
    sums = orders.sharing[["needed", "alone", "shared", "bound"]].sum()
    title = "Bags of grout to have by each period, added up"
    return {
        "plan_chart": curves(shown, title, "period") if len(shown) > 1 else None,
        "plan_rows": _rows(orders.lines, orders.purchases, orders.plan),
        "sharing": {name: f"{value:,.1f}" if name == "needed" else f"{value:,.0f}" for name, value in sums.items()},
        "share_reach": f"{result.settings.orders.reach_m:,.0f}",
    }


def _rows(lines: pd.DataFrame, purchases: pd.DataFrame, plan: pd.DataFrame) -> list[dict[str, Any]]:
    packs = lines[lines["packs"].notna()].groupby(["period", "item"])["packs"].sum()
    bought = purchases[purchases["packs_ordered"].gt(0)].groupby("period")
    first, late = bought["order_by"].min(), bought["late_days"].max()
    cores = plan.groupby("period").size()
    return [
        {
            "period": period,
            "cores": f"{cores[period]:,}",
            "packs": ", ".join(f"{count:,} {item}" for item, count in packs[period].items()),
            "order_by": first[period].strftime("%Y-%m-%d") if period in first else "nothing to order",
            "late": int(late[period]) if period in late else 0,
        }
        for period in cores.index
    ]
