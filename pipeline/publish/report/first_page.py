"""The report's first page: counts by status, what needs action, what to act on first, what was not checked."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.publish.looks import STATUS_LOOKS
from pipeline.publish.orders.workbook import in_units
from pipeline.publish.pages.charts import status_bar
from pipeline.publish.report.names import LONGEST_NAME, place_name
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["amount", "first_page"]

_STATUSES: Final = tuple(STATUS_LOOKS)
_MOST_RULES: Final = 5
# severities that someone has to act on, the graver first
_TO_ACT_ON: Final = ("fail", "check")
_UNITS: Final = {"kg": "unit.kg", "L": "unit.L", "lb": "unit.lb", "US gal": "unit.gal"}
# characters, on a page that is read in two minutes
_LONGEST_FINDING: Final = 220


def first_page(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template of the first page."""
    counts = {status: result.account[status] for status in _STATUSES}
    cores_read = max(result.account["cores"], 1)
    return {
        "status_bar": status_bar(counts, "all-cores", words),
        "statuses": [
            {"status": status, "n": count, "share": words.percent(count / cores_read, 1)}
            for status, count in counts.items()
        ],
        "no_reinstatement": _no_reinstatement(result, words),
        "need_action": _need_action(result.counted_cores, words),
        "materials_needed": _materials_needed(result, words),
        "total_cost": _total_cost(result, words),
        "ordered_cores": result.orders.cores,
        "overfill": words.percent(result.catalogue.materials.grout.overfill.value),
        "not_ordered_total": int(result.orders.left_out["cores"].sum()),
        "worst": _act_first(result, words),
        "not_run": _not_run(result, words),
    }


def _no_reinstatement(result: RunResult, words: Words) -> list[Markup]:
    """Return a sentence for each register without a column for the reinstatement date."""
    registers = result.counted_cores["register"]
    without = registers[~registers.isin(result.inputs.register.kept.get("reinstated_at", frozenset()))]
    return [
        words.say("first.no_reinstatement", register=words.own(name, LONGEST_NAME), n=int(count))
        for name, count in without.value_counts(sort=False).items()
    ]


def _need_action(cores: pd.DataFrame, words: Words) -> list[Markup]:
    """Return how many flagged cores are suspect reinstatements, still open, or unclear; groups of none left out."""
    flagged = cores[cores["status"].eq("flagged")]
    reinstated, still_open = flagged["reinstated_at"].notna(), flagged["is_open"]
    groups = {
        "suspect": int(reinstated.sum()),
        "still_open": int(still_open.sum()),
        # an unreadable date may mean that the core was reinstated
        "unclear": int((~reinstated & ~still_open).sum()),
    }
    return [words.say(f"first.{name}", n=count) for name, count in groups.items() if count]


def _not_run(result: RunResult, words: Words) -> dict[str, Any]:
    """Return how many checks, and how many whole rules, lacked data."""
    rules = result.audit.rules
    lacking, asked = int(rules["not_assessed"].sum()), int((rules["assessed"] + rules["not_assessed"]).sum())
    return {
        "checks": lacking,
        "of": asked,
        "share": words.percent(lacking / max(asked, 1), 1),
        "rules": len(result.audit.not_run),
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


def _act_first(result: RunResult, words: Words) -> list[dict[str, Any]]:
    """Return the rules to act on first: failures before checks, then by number of cores, then by name."""
    rules, found = result.audit.rules, result.counted_findings
    to_act_on = rules[rules["severity"].isin(_TO_ACT_ON) & rules["found"].gt(0)]
    ranked = to_act_on.assign(order=to_act_on["severity"].map(_TO_ACT_ON.index)).sort_values(
        ["order", "found", "rule"], ascending=[True, False, True]
    )
    shown = ranked.head(_MOST_RULES)
    cores = found[found["rule"].isin(shown["rule"])].join(
        result.table.set_index("row")[["district", "street"]], on="row", validate="many_to_one"
    )
    return [
        {
            "severity": rule["severity"],
            "n": rule["found"],
            "title": words.own(rule["title"]),
            "rule": rule["rule"],
            **_concentration(cores[cores["rule"].eq(rule["rule"])], words),
        }
        for rule in shown.to_dict("records")
    ]


def _concentration(cores: pd.DataFrame, words: Words) -> dict[str, Any]:
    """Return where a rule's cores concentrate, and an example: the first core in the district with the most."""
    districts = cores["district"].value_counts().sort_index(kind="stable").sort_values(ascending=False, kind="stable")
    streets = cores["street"].value_counts().sort_index(kind="stable").sort_values(ascending=False, kind="stable")
    where: list[Markup] = []
    if len(districts):
        name, most = words.own(districts.index[0], LONGEST_NAME), int(districts.iloc[0])
        if most == len(cores):
            where.append(words.say("first.all_in", where=name))
        elif most > 1:
            where.append(words.say("first.most_in", where=name, n=most, all=len(cores)))
        else:
            where.append(words.say("first.spread", n=len(districts)))
    # a single core on a street is no concentration
    if len(streets) and int(streets.iloc[0]) > 1:
        street = words.own(streets.index[0], LONGEST_NAME)
        where.append(words.say("first.most_on", n=int(streets.iloc[0]), street=street))
    first = (cores[cores["district"].eq(districts.index[0])] if len(districts) else cores).iloc[0]
    return {
        "where": where,
        "core": place_name(first["core_id"], "format.no_id", words),
        "message": words.own(first["message"], _LONGEST_FINDING),
    }
