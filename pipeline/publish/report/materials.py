"""The report's materials: grout from the net need to what is bought, gravel and water, and the cost."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.order.lines import item_of
from pipeline.publish.bought import bought_sentences
from pipeline.publish.item_units import in_units
from pipeline.publish.safety_notes import safety_notes
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["amount", "materials"]

_UNITS: Final = {"kg": "unit.kg", "L": "unit.L", "lb": "unit.lb", "US gal": "unit.gal"}


def materials(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template of materials."""
    rows = _items(result, words)
    return {
        "grout_needed": [row for row in rows if row["is_grout"]],
        "others_needed": [row for row in rows if not row["is_grout"]],
        "materials_line": [row["line"] for row in rows],
        "bought": bought_sentences(result.orders.purchase_totals, words, pool=result.settings.orders.pool),
        "safety_notes": safety_notes(result, words),
        "total_cost": _total_cost(result, words),
        "ordered_cores": result.orders.cores,
        "overfill": words.percent(result.catalogue.materials.grout.overfill.value),
        "not_ordered_total": int(result.orders.left_out["cores"].sum()),
    }


def _items(result: RunResult, words: Words) -> list[dict[str, Any]]:
    """Return per item what the planned cores need, the whole bags, and what to buy for it."""
    lines = in_units(result.orders.lines, result.settings.orders.units)
    totals = lines.groupby(["item", "unit"], sort=True)[["needed", "order", "reserve", "packs"]].sum(min_count=1)
    bought = result.orders.purchases.groupby("item")["packs_ordered"].sum()
    safety = result.orders.purchases.groupby("item")["packs_safety_stock"].sum()
    grout = {item_of(shade) for shade in result.catalogue.shades}
    costs = _costs(result)
    currency = result.settings.orders.currency
    rows = []
    for line in totals.reset_index().to_dict("records"):
        item = line["item"]
        row = {
            "item": words.own(item),
            "is_grout": item in grout,
            "net": _quantity(line["needed"], line["unit"], words),
            "packs": amount(line, words),
            "rounding": _quantity(line["reserve"], line["unit"], words),
            "safety": words.say("format.bags", n=round(safety[item])) if item in safety else "",
            "buy": words.say("format.bags", n=int(bought[item])) if item in bought else "",
            "cost": words.money(costs[item], currency) if item in costs else None,
        }
        key = "materials.of_grout" if row["is_grout"] else "materials.of_item"
        mix = words.say("format.bags", n=int(line["packs"])) if row["is_grout"] else ""
        rows.append(row | {"line": words.say(key, item=row["item"], amount=row["packs"], mix=mix, net=row["net"])})
    return rows


def _quantity(value: float, unit: str, words: Words) -> Markup:
    return words.say(_UNITS[unit], v=words.number(value))


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
    content = _quantity(line["order"], line["unit"], words)
    if pd.isna(line["packs"]):
        return content
    return words.say("format.quantity", bags=words.say("format.bags", n=int(line["packs"])), amount=content)
