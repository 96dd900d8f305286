"""The report's first page: how the programme stands, what is at stake, what to act on first."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.contracts import NO_DISTRICT
from pipeline.publish.looks import STATUS_LOOKS
from pipeline.publish.orders.workbook import in_units
from pipeline.publish.pages.charts import whole_bar
from pipeline.publish.words import Words
from pipeline.results import RunResult

__all__ = ["amount", "district_name", "first_page", "name_of_place"]

_STATUSES: Final = tuple(STATUS_LOOKS)
_WORST: Final = 5
_LOUD: Final = ("fail", "check")
_UNITS: Final = {"kg": "unit.kg", "L": "unit.L", "lb": "unit.lb", "US gal": "unit.gal"}
# of a name, and of a sentence, on a page that is read in a minute
_LONGEST_NAME: Final = 60
_LONGEST_SENTENCE: Final = 220


def first_page(result: RunResult, words: Words) -> dict[str, Any]:
    """Return what the template of the first page shows."""
    counts = {status: result.account[status] for status in _STATUSES}
    everyone = max(result.account["rows_read"], 1)
    flagged = result.cores[result.cores["status"].eq("flagged")]
    back, still = flagged["reinstated_at"].notna(), flagged["is_open"]
    rules = result.audit.rules
    concerned = int(rules["assessed"].sum() + rules["not_assessed"].sum())
    return {
        "whole_bar": whole_bar(counts, "whole", words),
        "statuses": [
            {"status": status, "n": number, "share": words.percent(number / everyone, 1)}
            for status, number in counts.items()
        ],
        "stake_flagged": len(flagged),
        "stake_back": int(back.sum()),
        "stake_open": int(still.sum()),
        # a date that cannot be read may say that the core is back
        "stake_unknown": int((~back & ~still).sum()),
        "stake": _stake(result, words),
        "stake_cost": _cost(result, words),
        "served": result.orders.cores,
        "overfill": words.percent(result.catalogue.materials.grout.overfill.value),
        "left_out_total": int(result.orders.left_out["cores"].sum()),
        "worst": _worst(result, words),
        "unjudged": {
            "checks": int(rules["not_assessed"].sum()),
            "of": concerned,
            "share": words.percent(rules["not_assessed"].sum() / max(concerned, 1), 1),
            "rules": len(result.audit.not_run),
        },
    }


def _stake(result: RunResult, words: Words) -> list[dict[str, Any]]:
    """What the open cores need, by item: in whole packs, and what to buy for it."""
    lines = in_units(result.orders.lines, result.settings.orders.units)
    totals = lines.groupby(["item", "unit"], sort=True)[["needed", "order", "packs"]].sum(min_count=1)
    purchases = result.orders.purchases
    bought = purchases.groupby("item")["packs_ordered"].sum()
    costs = _costs(result)
    return [
        {
            "item": words.own(one["item"]),
            "planned": amount(one, words),
            "buy": words.say("format.packs", n=int(bought[one["item"]])) if one["item"] in bought else "",
            "cost": words.money(costs[one["item"]], result.settings.orders.currency) if one["item"] in costs else None,
        }
        for one in totals.reset_index().to_dict("records")
    ]


def _costs(result: RunResult) -> dict[str, float]:
    purchases = result.orders.purchases
    if "cost" not in purchases:
        return {}
    sums = pd.to_numeric(purchases["cost"]).groupby(purchases["item"]).sum(min_count=1).dropna()
    return {str(item): float(cost) for item, cost in sums.items()}


def _cost(result: RunResult, words: Words) -> dict[str, Any] | None:
    costs = _costs(result)
    if not costs:
        return None
    bought = set(result.orders.purchases["item"])
    total = words.money(sum(costs.values()), result.settings.orders.currency)
    return {"total": total, "is_whole": bought <= set(costs)}


def amount(line: dict[Any, Any], words: Words) -> Markup:
    """Return what an order's line comes to: packs and what they hold, or a quantity that comes in no packs."""
    unit = _UNITS[line["unit"]]
    if pd.isna(line["packs"]):
        return words.say(unit, v=words.number(line["order"]))
    packs = words.say("format.packs", n=int(line["packs"]))
    return words.say("format.quantity", packs=packs, amount=words.say(unit, v=words.number(line["order"])))


def name_of_place(name: object, missing: str, words: Words) -> Markup:
    """Return a name of the register's or a layer's, or the sentence that stands for a missing one."""
    return words.say(missing) if name is None or pd.isna(name) else words.own(name, _LONGEST_NAME)  # type: ignore[call-overload]


def district_name(name: str, words: Words) -> Markup:
    """Return a district's name as orders and rates have it."""
    return words.say("format.no_district") if name == NO_DISTRICT else words.own(name, _LONGEST_NAME)


def _worst(result: RunResult, words: Words) -> list[dict[str, Any]]:
    """The rules to act on first: failures before checks, then by the number of cores, then by name."""
    rules, found = result.audit.rules, result.audit.findings
    loud = rules[rules["severity"].isin(_LOUD) & rules["found"].gt(0)]
    worst = loud.assign(order=loud["severity"].map(_LOUD.index)).sort_values(
        ["order", "found", "rule"], ascending=[True, False, True]
    )
    shown = worst.head(_WORST)
    cores = found[found["rule"].isin(shown["rule"])].join(
        result.table.set_index("row")[["district", "street"]], on="row", validate="many_to_one"
    )
    return [
        {
            "severity": one["severity"],
            "n": one["found"],
            "title": words.own(one["title"]),
            "rule": one["rule"],
            **_where(cores[cores["rule"].eq(one["rule"])], words),
        }
        for one in shown.to_dict("records")
    ]


def _where(cores: pd.DataFrame, words: Words) -> dict[str, Any]:
    """Where a rule's cores concentrate, and one of them: the first in the district that has most."""
    districts = cores["district"].value_counts().sort_index(kind="stable").sort_values(ascending=False, kind="stable")
    streets = cores["street"].value_counts().sort_index(kind="stable").sort_values(ascending=False, kind="stable")
    where: list[Markup] = []
    if len(districts):
        name, most = words.own(districts.index[0], _LONGEST_NAME), int(districts.iloc[0])
        if most == len(cores):
            where.append(words.say("first.all_in", where=name))
        elif most > 1:
            where.append(words.say("first.most_in", where=name, n=most, all=len(cores)))
        else:
            where.append(words.say("first.spread", n=len(districts)))
    # a single core on a street is no concentration
    if len(streets) and int(streets.iloc[0]) > 1:
        street = words.own(streets.index[0], _LONGEST_NAME)
        where.append(words.say("first.most_on", n=int(streets.iloc[0]), street=street))
    first = (cores[cores["district"].eq(districts.index[0])] if len(districts) else cores).iloc[0]
    return {
        "where": where,
        "core": name_of_place(first["core_id"], "format.no_id", words),
        "message": words.own(first["message"], _LONGEST_SENTENCE),
    }
