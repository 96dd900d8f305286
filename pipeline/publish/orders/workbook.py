"""The workbook of the orders: totals, a sheet per district, purchases, safety stock, the plan, loads, the work list."""

import re
from pathlib import Path
from typing import Final

import pandas as pd

from pipeline.clock import Counted, uncounted
from pipeline.contracts import NO_DISTRICT
from pipeline.publish.bought import bought_sentences
from pipeline.publish.item_units import in_units
from pipeline.publish.orders.plan_sheets import not_planned_sheet, plan_sheet
from pipeline.publish.orders.work_list import caution_key, whole_weights, work_list
from pipeline.publish.safety_notes import level_shown, safety_notes
from pipeline.publish.tables import rounded, write_workbook
from pipeline.publish.words import words_of
from pipeline.results import RunResult
from pipeline.visible_text import in_line
from pipeline.wording import counted

__all__ = ["order_sheets", "write_order_book"]

# the characters that a sheet's name must not contain, and its greatest length in units of UTF-16
_BARRED: Final = re.compile(r"[\[\]:*?/\\]")
_LONGEST_NAME: Final = 31
# every sheet can be printed alone
_DATA_SHEET: Final = "Grout and water: the data sheet of the bag decides. Lift cores and plates by machine."
# what the sheets call the columns whose names in the other outputs say less
_HEADS: Final = {
    "needed": "net need",
    "order": "in whole packs",
    "reserve": "rounding surplus",
    "alone": "without sharing",
    "shared": "bags to mix",
    "safety_stock": "safety stock",
    "error": "standard error",
    "mean": "mean with waste",
    "from_shade": "for shade alone",
    "from_size": "for size alone",
    "from_waste": "for waste alone",
    "from_model": "for model alone",
    "enough_jointly": "enough for all lines at once",
    "planned_suffices": "chance that planned bags suffice",
    "joint_level": "level of all lines at once",
    "without_model": "without the model",
    "service_level": "service level",
    "needed_from": "needed from",
    "order_by": "order by",
    "late_days": "days late",
    "packs_planned": "packs planned",
    "packs_safety_stock": "safety stock",
    "packs_from_stock": "from stock",
    "packs_ordered": "to buy",
    "packs_left": "packs left",
    "packs_expiring": "packs expired",
    "use_by": "use by",
    "rounding_packs": "rounding packs",
    "rounding_cost": "rounding cost",
    "transferred_in": "moved in",
    "transferred_out": "moved out",
    "transfer_cost": "moving cost",
    "stock_used": "from stock",
    "packs_apart": "packs, yards apart",
    "packs_pooled": "packs, yards pooled",
    "cost_apart": "cost, yards apart",
    "cost_pooled": "cost, yards pooled",
    "measure": "kept low",
    "bound": "lower bound",
    "expected": "bags to mix",
    "enough": "bags that suffice",
    "budget_cumulative": "budget, cumulative",
    "cumulative": "forecast, cumulative",
    "beyond": "beyond the budget",
    "mixes": "shared mixes",
    "carry": "to load",
    "core_ids": "core ids",
    "heaviest_core_kg": "heaviest core (kg)",
    "heaviest_core_lb": "heaviest core (lb)",
}


def _weighed(loads: pd.DataFrame, units: str) -> pd.DataFrame:
    """Return the loads with the weight of the heaviest core in whole units; the cautions are under the table."""
    shown = loads.assign(heaviest_core_kg=whole_weights(loads["heaviest_core_kg"], units)).drop(columns="cautions")
    return shown if units == "metric" else shown.rename(columns={"heaviest_core_kg": "heaviest_core_lb"})


def order_sheets(result: RunResult) -> dict[str, pd.DataFrame]:
    """Return the tables of the workbook by the name of their sheet."""
    orders, units = result.orders, result.settings.orders.units
    lines = rounded(in_units(orders.lines, units))
    sheets = {"Total": _by_period(lines), "Order by district": lines}
    taken = {name.casefold() for name in (*sheets, *_OTHER_SHEETS)}
    for district, mine in _by_district(lines).items():
        sheets[_sheet_name(district, taken)] = mine
    sheets["Purchases"] = _purchase_sheet(rounded(orders.purchases))
    sheets["Purchases in all"] = _purchase_sheet(rounded(orders.purchase_totals))
    sheets["Sharing"] = rounded(orders.sharing).rename(columns={"needed": "net grout"})
    sheets["Safety stock"] = rounded(orders.safety_stock)
    sheets["Service levels"] = rounded(_levels(orders.service_levels))
    sheets["Costs"] = _cost_sheet(rounded(orders.costs))
    sheets["Budget"] = _budget_sheet(rounded(orders.budget), result.settings.orders.currency)
    sheets["Plan"] = plan_sheet(result)
    sheets["Not planned"] = not_planned_sheet(result)
    sheets["Loads this week"] = rounded(_weighed(in_units(orders.loads, units), units))
    sheets["Work list"] = work_list(result)
    sheets["Not ordered"] = orders.left_out
    return {
        name: table.set_axis([_HEADS.get(head, head) for head in table.columns], axis="columns")
        for name, table in sheets.items()
    }


_MONEY: Final = ("cost", "price", "rounding_cost", "transfer_cost", "cost_apart", "cost_pooled")
_OFTEN_IDLE: Final = ("packs_expiring", "transferred_in", "transferred_out", "transfer_cost")
_OTHER_SHEETS: Final = (
    "Purchases",
    "Purchases in all",
    "Sharing",
    "Safety stock",
    "Service levels",
    "Costs",
    "Budget",
    "Plan",
    "Not planned",
    "Loads this week",
    "Work list",
    "Not ordered",
    "How to read it",
    "History",
)


def _purchase_sheet(table: pd.DataFrame) -> pd.DataFrame:
    """Return the purchases without the columns that hold nothing; what is paid in a currency is said in the heads."""
    currency = table["currency"].dropna().unique().tolist() if "currency" in table else []
    heads = {name: f"{_HEADS.get(name, name)} ({currency[0]})" for name in _MONEY if name in table and len(currency)}
    shown = table.drop(columns="currency", errors="ignore").dropna(axis="columns", how="all")
    idle = [name for name in _OFTEN_IDLE if name in shown and shown[name].eq(0).all()]
    return shown.drop(columns=idle).rename(columns=heads)


def _cost_sheet(table: pd.DataFrame) -> pd.DataFrame:
    """Return the costs by kind, district, register, crew and period, with the currency in the head of the amount."""
    currency = table["currency"].dropna().unique().tolist()
    amount = f"amount ({currency[0]})" if currency else "amount"
    return table.drop(columns="currency").rename(columns={"week": "period", "amount": amount})


def _budget_sheet(table: pd.DataFrame, currency: str | None) -> pd.DataFrame:
    """Return the forecast of each period beside its budget, then of all periods; what came before the audit first."""
    forecast = "forecast" if currency is None else f"forecast ({currency})"
    return table.assign(week=table["week"].fillna("all periods")).rename(columns={"week": "period", "amount": forecast})


_SUMS: Final = ["needed", "order", "reserve", "packs"]


def _by_period(lines: pd.DataFrame) -> pd.DataFrame:
    """Return the sums of each item over all periods, then by period."""
    return _by_district(lines.assign(district="")).get("", lines[["period", "item", "unit", *_SUMS]])


def _by_district(lines: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Return the sums of each item by district, over all periods, then by period; the districts by name."""
    by_period = lines.groupby(["district", "period", "item", "unit"], as_index=False)[_SUMS].sum(min_count=1)
    total = lines.groupby(["district", "item", "unit"], as_index=False)[_SUMS].sum(min_count=1)
    both = pd.concat([total.assign(period="all periods")[by_period.columns], by_period], ignore_index=True)
    return {
        str(district): mine.drop(columns="district").reset_index(drop=True)
        for district, mine in rounded(both).groupby("district", sort=True)
    }


def _levels(totals: pd.DataFrame) -> pd.DataFrame:
    """Return the bags that each service level requires, one row per level and shade."""
    words = words_of("en")
    shown = totals.assign(
        service_level=[level_shown(level, words) for level in totals["level"]],
        shade=totals["shade"].fillna("all shades"),
    )
    return shown[["service_level", "shade", *(name for name in totals if name not in {"level", "shade"})]]


def _sheet_name(district: str, taken: set[str]) -> str:
    """Return a valid sheet name that is not taken, and add it to those taken."""
    plain = _BARRED.sub(" ", in_line(district)).strip(" '")
    name, number = _cut(plain, ""), 1
    while name.casefold() in taken:
        number += 1
        name = _cut(plain, f" ({number})")
    taken.add(name.casefold())
    return name


def _cut(plain: str, ending: str) -> str:
    """Return a name as long as a sheet's may be, in units of UTF-16, and without an apostrophe at its ends."""
    units = (plain or "district").encode("utf-16-le")[: 2 * (_LONGEST_NAME - len(ending))]
    return units.decode("utf-16-le", "ignore").strip(" '") + ending


def write_order_book(result: RunResult, path: Path, tell: Counted = uncounted) -> None:
    """Write the workbook; the same run gives the same bytes. ``tell`` is told its sheets and rows."""
    title = f"{result.settings.programme.name}, orders"
    is_us = result.settings.orders.units == "us"
    write_workbook(
        order_sheets(result), title, result.as_of, path, _notes(result), _DATA_SHEET, _below(result),
        "Letter" if is_us else "A4", tell,
    )  # fmt: skip


def _below(result: RunResult) -> dict[str, list[str]]:
    """Return the lines under the tables: what was bought and why, and the cautions, once per sheet."""
    cautions = caution_key(result)
    bought = bought_sentences(result.orders.purchase_totals, words_of("en"), pool=result.settings.orders.pool)
    return {
        "Purchases in all": bought,
        "Work list": cautions,
        "Loads this week": list(dict.fromkeys(line.split(": ", 1)[1] for line in cautions)),
    }


def _notes(result: RunResult) -> list[str]:
    """Return the sentences of the sheet "How to read it"."""
    grout, ordering = result.catalogue.materials.grout, result.settings.orders
    sharing = result.orders.sharing
    alone, shared = (sharing[name].sum() for name in ("alone", "shared"))
    needed = sharing["needed"].sum()
    sentences = f"""\
Net need: the exact sum over {counted(result.orders.cores, "planned core")}, {grout.overfill.value:.0%} overfill \
included; of grout, the net grout. In whole packs: the bags to mix, or whole packs. Rounding surplus: that less the \
net need. Packs: the number of bags or packs; to buy: packs planned and safety stock, less stock, rounded up to \
pallets and minimum orders.
Grout comes in bags of {grout.bag.value:g} kg; each bag takes {grout.water_per_bag.value:g} L of water. The bag's own \
data sheet decides.
Bags to mix: the net grout adds up to {needed:,.1f} bags, but a bag is mixed whole and is firm after about \
{grout.firm_after.value:g} minutes. Cores of one shade and district that follow each other on a crew's day share a \
mix if all of them are walked to, poured and pressed within {ordering.working_time_min:g} minutes \
(orders.working_time). Without sharing, the cores would take \
{alone:,.0f} bags in all; with sharing they take {shared:,.0f}, which are ordered. The sheet Sharing has them by \
district, period and shade.
Period: that of the day in the plan.
Purchases: per yard, what stock and leftovers do not cover, at the least cost, or without prices with the fewest \
packs. Order by: the last day to order. Days late: how many days ago that was. Safety stock: that of the yard's \
districts, spread \
over the periods. Rounding packs: packs of the order that neither plan nor safety stock uses, from pallets and \
minimum orders. Moved in and out: packs that pooled yards give each other (orders.pool).
Purchases in all: per item, with what would be bought if each yard bought for itself, and if yards were pooled. No \
purchase \
has less than the lower bound; the gap is the share by which the plan of purchases lies above it.
Service levels: the bags that 90, 95 and 99% require in total, so what a higher level costs.
Costs: what the plan costs, and what open cores cost until they are reinstated; without a price under [costs], only \
how much of it there is. So far: before the audit, and no part of the forecast. Budget: the forecast of each period \
beside what may be spent.
Plan: each stop by crew and day. Not planned: the work that has no day yet, why, and what it would need.
Loads this week: what each crew loads on each of the first seven days of the plan; a line names the cores that take \
the \
item, in the order of the stops. Shared mixes: cores whose grout is mixed together. States: how many of them are \
open, \
plated or under an interim reinstatement. Hazards: the cores that can hurt someone now; they come first among the \
core ids. \
Heaviest core: about what it weighs; lift every core by machine.
Work list: each core that the plan visits, by crew, day and stop: to reinstate, to survey or to make safe. The \
letters of \
its cautions are explained under the table. What a core weighs follows from its size and surface.
Not ordered: open cores for which nothing is ordered, by reason, with their ids.
Nothing is ordered for reinstated cores, flagged or not. Cores without a district are listed under {NO_DISTRICT}."""
    return [*sentences.splitlines(), *safety_notes(result, words_of("en")), *result.catalogue.cautions]
