"""The report's materials: per item what the open cores need in whole bags, what to buy for it, and the cost."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.publish.bought import bought_sentences
from pipeline.publish.item_units import in_units
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["amount", "materials"]

_UNITS: Final = {"kg": "unit.kg", "L": "unit.L", "lb": "unit.lb", "US gal": "unit.gal"}


def materials(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template of materials."""
    needed = _materials_needed(result, words)
    return {
        "materials_needed": needed,
        "materials_line": [words.say("materials.of_item", amount=line["needed"], item=line["item"]) for line in needed],
        "bought": bought_sentences(result.orders.purchase_totals, words, pool=result.settings.orders.pool),
        "total_cost": _total_cost(result, words),
        "ordered_cores": result.orders.cores,
        "overfill": words.percent(result.catalogue.materials.grout.overfill.value),
        "not_ordered_total": int(result.orders.left_out["cores"].sum()),
    }


def _materials_needed(result: RunResult, words: Words) -> list[dict[str, Any]]:
    """Return per item what the open cores need in whole bags, and what to buy for it."""
    lines = in_units(result.orders.lines, result.settings.orders.units)
    totals = lines.groupby(["item", "unit"], sort=True)[["needed", "order", "packs"]].sum(min_count=1)
    bought = result.orders.purchases.groupby("item")["packs_ordered"].sum()
    costs = _costs(result)
    currency = result.settings.orders.currency
    return [
        {
            "item": words.own(line["item"]),
            "needed": amount(line, words),
            "buy": words.say("format.bags", n=int(bought[line["item"]])) if line["item"] in bought else "",
            "cost": words.money(costs[line["item"]], currency) if line["item"] in costs else None,
        }
        for line in totals.reset_index().to_dict("records")
    ]


def _costs(result: RunResult) -> dict[str, float]:
    """Return the cost of each item that has a price."""
    purchases = result.orders.purchases
    if "cost" not in purchases:
        return {}
    sums = pd.to_numeric(purchases["cost"]).groupby(purchases["item"]).sum(min_count=1).dropna()
    return {str(item): float(cost) for item, cost in sums.items()}


def _total_cost(result: RunResult, words: Words) -> dict[str, Any] | None:
    """Return the total of the priced items, and whether every item has a price; None without prices."""
    costs = _costs(result)
    if not costs:
        return None
    items = set(result.orders.purchases["item"])
    total = words.money(sum(costs.values()), result.settings.orders.currency)
    return {"total": total, "is_complete": items <= set(costs)}


def amount(line: dict[Any, Any], words: Words) -> Markup:
    """Return the quantity of an order line: bags and their content, or the quantity alone for what has no bags."""
    content = words.say(_UNITS[line["unit"]], v=words.number(line["order"]))
    if pd.isna(line["packs"]):
        return content
    return words.say("format.quantity", bags=words.say("format.bags", n=int(line["packs"])), amount=content)
