"""What the report says of the plan: needs by period and district, order-by dates, bags saved by sharing."""

from typing import Any, Final

import pandas as pd

from pipeline.contracts import NO_DATE
from pipeline.publish.pages.charts import curves
from pipeline.publish.report.first_page import district_name
from pipeline.publish.words import Words, plain_text
from pipeline.results import RunResult

__all__ = ["plan_of_orders"]

# more lines than a chart holds: the districts that need most, and all together
_MOST_LINES: Final = 5
_LONGEST_NAME: Final = 15


def plan_of_orders(result: RunResult, words: Words) -> dict[str, Any]:
    """Return what the template shows of the orders' plan."""
    orders = result.orders
    empty: dict[str, Any] = {"plan_chart": None, "plan_rows": [], "sharing": None, "items": [], "ordered": []}
    if orders.sharing.empty:
        return empty
    bags = orders.sharing.pivot_table(index="period", columns="district", values="shared", aggfunc="sum").fillna(0)
    running = bags.cumsum()
    most = running.iloc[-1].sort_values(ascending=False, kind="stable").index[:_MOST_LINES]
    shown = running[list(most)].round().astype(int)
    everyone = running.sum(axis="columns").round().astype(int)
    shown = shown.set_axis([_line_name(str(name), words) for name in most], axis="columns")
    shown.insert(len(most), words.plainly("chart.all_districts"), everyone, allow_duplicates=True)
    shown = shown.set_axis([_period_plainly(str(period), words) for period in shown.index])
    sums = orders.sharing[["needed", "alone", "shared", "bound"]].sum()
    title = words.plainly("chart.plan")
    return {
        "plan_chart": curves(shown, "plan", title, words.plainly("chart.period"), words) if len(shown) > 1 else None,
        "plan_rows": _rows(orders.lines, orders.purchases, orders.plan, words),
        "sharing": {name: words.number(value, int(name == "needed")) for name, value in sums.items()}
        | {"n": round(result.settings.orders.reach_m)},
        **_by_district(orders.lines, orders.left_out, words),
    }


def _line_name(name: str, words: Words) -> str:
    shown = str(district_name(name, words))
    return shown if not shown.startswith("<bdi>") else plain_text(name, _LONGEST_NAME)


def _period_plainly(period: str, words: Words) -> str:
    return words.plainly("format.no_date") if period == NO_DATE else plain_text(period, _LONGEST_NAME)


def _rows(lines: pd.DataFrame, purchases: pd.DataFrame, plan: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    packs = lines[lines["packs"].notna()].groupby(["period", "item"])["packs"].sum()
    bought = purchases[purchases["packs_ordered"].gt(0)].groupby("period")
    first, late = bought["order_by"].min(), bought["late_days"].max()
    cores = plan.groupby("period").size()
    return [
        {
            "period": words.say("format.no_date") if period == NO_DATE else words.own(period),
            "cores": words.number(cores[period]),
            "packs": words.listed(
                words.say("plan.of_item", n=int(count), item=words.own(item)) for item, count in packs[period].items()
            ),
            "order_by": words.date(first[period].date()) if period in first else words.say("plan.nothing_to_order"),
            "late": int(late[period]) if period in late else 0,
        }
        for period in cores.index
    ]


def _by_district(lines: pd.DataFrame, left_out: pd.DataFrame, words: Words) -> dict[str, Any]:
    """Packs of each item by district, and the open cores that nothing is ordered for."""
    packs = lines[lines["packs"].notna()].pivot_table(index="district", columns="item", values="packs", aggfunc="sum")
    left = left_out.groupby("district")["cores"].sum()
    names = sorted({*map(str, packs.index), *map(str, left.index)})
    packs = packs.reindex(names)
    return {
        "items": [words.own(item) for item in packs.columns],
        "ordered": [
            {
                "district": district_name(name, words),
                "packs": ["" if pd.isna(count) else words.number(int(count)) for count in row],
                "left": words.number(int(left.get(name, 0))),
            }
            for name, row in zip(names, packs.to_numpy(), strict=True)
        ],
    }
