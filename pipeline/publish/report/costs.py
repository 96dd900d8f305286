"""The report's costs: by kind, district and crew, and a chart of the forecast against the budget."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.contracts import NO_DISTRICT
from pipeline.order.costs import NOT_PLANNED, SO_FAR
from pipeline.publish.pages.charts import curves
from pipeline.publish.report.names import LONGEST_NAME, district_name
from pipeline.publish.words import Words, plain_text
from pipeline.results import RunResult

__all__ = ["costs"]

# a single period has no line
_FEWEST_PERIODS: Final = 2
# characters of a period in the chart
_LONGEST_PERIOD: Final = 15


def costs(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template of costs."""
    table, budget = result.orders.costs, result.orders.budget
    currency = result.settings.orders.currency
    is_past = table["week"].eq(SO_FAR)
    return {
        "cost_kinds": _kinds(table, is_past, currency, words),
        "cost_groups": [_group(name, table, is_past, currency, words) for name in _groups(table)],
        "cost_total": _total(table["amount"], is_past, currency, words),
        "cost_chart": _chart(budget, words),
        "cost_weeks": _weeks(budget, currency, words),
        "cost_weekly_budget": bool(_periods(budget)["budget"].notna().any()),
        "cost_line": _line(budget, currency, words),
    }


def _groups(table: pd.DataFrame) -> list[str]:
    """Return what amounts are grouped by; registers only where there are several, and nothing without a price."""
    if table["amount"].isna().all():
        return []
    several = len(table["register"].drop_duplicates()) > 1
    return ["district", "crew", *(["register"] if several else [])]


def _money(amount: float, currency: str | None, words: Words) -> Markup:
    """Return an amount, or nothing for one that is missing."""
    return Markup() if pd.isna(amount) else words.money(float(amount), currency)


def _total(amounts: pd.Series, is_past: pd.Series, currency: str | None, words: Words) -> dict[str, Markup]:
    """Return the forecast and what came before it."""
    sums = {"forecast": amounts[~is_past].sum(min_count=1), "so_far": amounts[is_past].sum(min_count=1)}
    return {name: _money(amount, currency, words) for name, amount in sums.items()}


def _kinds(table: pd.DataFrame, is_past: pd.Series, currency: str | None, words: Words) -> list[dict[str, Any]]:
    """Return the quantity and the amount of each kind, in the order of the table."""
    rows = []
    for kind in table["kind"].drop_duplicates():
        mine = table["kind"].eq(kind)
        quantity = table.loc[mine & ~is_past, "quantity"].sum()
        rows.append(
            {
                "kind": words.own(words.translated(str(kind))),
                "quantity": words.number(quantity, int(abs(quantity - round(quantity)) > 1e-6)),
                "unit": words.own(words.translated(str(table.loc[mine, "unit"].iloc[0]))),
                "is_priced": bool(table.loc[mine, "amount"].notna().any()),
                **_total(table.loc[mine, "amount"], is_past[mine], currency, words),
            }
        )
    return rows


def _group(name: str, table: pd.DataFrame, is_past: pd.Series, currency: str | None, words: Words) -> dict[str, Any]:
    """Return the amounts of the districts, crews or registers by their names, those without one last."""
    names = sorted(table[name].astype(str).unique(), key=lambda text: (text in {NO_DISTRICT, NOT_PLANNED}, text))
    rows = []
    for text in names:
        mine = table[name].eq(text)
        shown = _name(name, text, words)
        rows.append({"name": shown, **_total(table.loc[mine, "amount"], is_past[mine], currency, words)})
    return {"name": name, "rows": rows}


def _name(group: str, text: str, words: Words) -> Markup:
    if group == "district":
        return district_name(text, words)
    return words.say("costs.no_crew") if text == NOT_PLANNED else words.own(text, LONGEST_NAME)


def _periods(budget: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of the forecast: those of a period after the audit."""
    return budget[budget["week"].notna() & budget["week"].ne(SO_FAR)]


def _chart(budget: pd.DataFrame, words: Words) -> Markup | None:
    """Return the cumulative forecast and, where there is one, the budget; None for a single period."""
    periods = _periods(budget)
    if len(periods) < _FEWEST_PERIODS:
        return None
    lines = {words.plainly("costs.line_forecast"): periods["cumulative"]}
    total = budget["budget"].iloc[-1]
    if periods["budget"].notna().any():
        # a period without a budget of its own adds nothing to it
        lines[words.plainly("costs.line_budget")] = periods["budget"].fillna(0.0).cumsum()
    elif pd.notna(total):
        lines[words.plainly("costs.line_budget")] = pd.Series(total, periods.index)
    shown = pd.DataFrame(lines).round().astype("int64")
    shown = shown.set_axis([plain_text(week, _LONGEST_PERIOD) for week in periods["week"]])
    return curves(shown, "costs", words.plainly("costs.chart"), words.plainly("chart.period"), words)


def _weeks(budget: pd.DataFrame, currency: str | None, words: Words) -> list[dict[str, Any]]:
    """Return the periods of the forecast with what each costs, and the sums until its end."""
    money = ("amount", "cumulative", "budget", "budget_cumulative")
    return [
        {"week": words.own(week["week"])} | {name: _money(week[name], currency, words) for name in money}
        for week in _periods(budget).to_dict("records")
    ]


def _line(budget: pd.DataFrame, currency: str | None, words: Words) -> Markup | None:
    """Return the forecast beside the budget in a sentence; None where nothing has a price."""
    if budget.empty:
        return None
    total = budget.iloc[-1]
    values = {name: _money(total[key], currency, words) for name, key in (("forecast", "amount"), ("budget", "budget"))}
    if pd.isna(total["budget"]):
        return words.say("costs.no_budget", section=words.own("[budget]"), **values)
    beyond = float(total["beyond"])
    key = "costs.beyond" if beyond > 0 else "costs.within"
    return words.say(key, difference=_money(abs(beyond), currency, words), **values)
