"""The report's orders: by period and district, with order-by dates and the bags that sharing mixes saves."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.contracts import NO_DATE
from pipeline.publish.pages.charts import curves
from pipeline.publish.report.names import district_in_chart, district_name
from pipeline.publish.words import Words, plain_text
from pipeline.results import RunResult

__all__ = ["orders"]

# a chart shows the districts that need most, and all districts together
_MOST_LINES: Final = 5
# a single period has no line
_FEWEST_PERIODS: Final = 2
# characters of a name in a chart
_LONGEST_NAME: Final = 15


def orders(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template of orders."""
    ordered = result.orders
    if ordered.sharing.empty:
        return {"plan_chart": None, "plan_rows": [], "sharing": None, "items": [], "ordered": []}
    sums = ordered.sharing[["needed", "alone", "shared"]].sum()
    return {
        "plan_chart": _chart(ordered.sharing, words),
        "plan_rows": _rows(ordered.lines, ordered.purchases, ordered.plan, words),
        "sharing": {name: words.number(value, int(name == "needed")) for name, value in sums.items()}
        | {
            "n": round(result.settings.orders.working_time_min),
            "firm": words.measure(result.catalogue.materials.grout.firm_after.value),
        },
        **_by_district(ordered.lines, ordered.left_out, words),
    }


def _chart(sharing: pd.DataFrame, words: Words) -> Markup | None:
    """Return the bags needed by each period, cumulative; None for a single period."""
    bags = sharing.pivot_table(index="period", columns="district", values="shared", aggfunc="sum").fillna(0)
    running = bags.cumsum()
    if len(running) < _FEWEST_PERIODS:
        return None
    most = running.iloc[-1].sort_values(ascending=False, kind="stable").index[:_MOST_LINES]
    shown = running[list(most)].round().astype(int)
    shown = shown.set_axis([district_in_chart(str(name), _LONGEST_NAME, words) for name in most], axis="columns")
    all_districts = running.sum(axis="columns").round().astype(int)
    shown.insert(len(most), words.plainly("chart.all_districts"), all_districts, allow_duplicates=True)
    shown = shown.set_axis([_period_in_chart(str(period), words) for period in shown.index])
    return curves(shown, "plan", words.plainly("chart.plan"), words.plainly("chart.period"), words)


def _period_in_chart(period: str, words: Words) -> str:
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
    """Return the bags of each item by district, and how many open cores are not ordered."""
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
