"""Costs in the report: by kind, district and crew, and the forecast beside the budget."""

import math
from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.publish.report.costs import costs
from pipeline.publish.words import words_of
from tests.publish.report.pages import text_of

_WORDS = words_of("en")
_HEADS = ("kind", "district", "register", "crew", "week", "quantity", "unit", "amount")
# 4 bags at 15; two plates of a core that is not planned at 12 per day, 3 days before the audit and 5 after
_ROWS = [
    ("grout", "North", "cores", "East", "2026-W41", 3.0, "bag", 45.0),
    ("grout", "(no district)", "cores", "East", "2026-W42", 1.0, "bag", 15.0),
    ("plates", "North", "cores", "(not planned)", "so far", 3.0, "plate-day", 36.0),
    ("plates", "North", "cores", "(not planned)", "2026-W41", 5.0, "plate-day", 60.0),
]
_WEEKS = [
    ("so far", 36.0, math.nan, math.nan, math.nan, math.nan),
    ("2026-W41", 105.0, 105.0, math.nan, math.nan, math.nan),
    ("2026-W42", 15.0, 120.0, math.nan, math.nan, math.nan),
    (None, 120.0, math.nan, math.nan, math.nan, math.nan),
]


def _shown(rows=_ROWS, weeks=_WEEKS, currency="CAD"):
    budget = pd.DataFrame(weeks, columns=["week", "amount", "cumulative", "budget", "budget_cumulative", "beyond"])
    orders = SimpleNamespace(costs=pd.DataFrame(rows, columns=list(_HEADS)), budget=budget)
    settings = SimpleNamespace(orders=SimpleNamespace(currency=currency))
    return costs(SimpleNamespace(orders=orders, settings=settings), _WORDS)


def _with_total(budget):
    return [*_WEEKS[:-1], (None, 120.0, math.nan, budget, math.nan, 120.0 - budget)]


def _curves(shown):
    return str(shown["cost_chart"]).split("<desc")[1].split("</desc>")[0].split(">")[1]


def test_each_kind_has_its_forecast_apart_from_what_came_before_the_audit():
    kinds = {
        text_of(row["kind"]): [text_of(row[name]) for name in ("quantity", "unit", "forecast", "so_far")]
        for row in _shown()["cost_kinds"]
    }
    assert kinds == {
        "grout": ["4", "bag", "CA$60.00", ""],
        "plates": ["5", "plate-day", "CA$60.00", "CA$36.00"],
    }
    assert [text_of(_shown()["cost_total"][name]) for name in ("forecast", "so_far")] == ["CA$120.00", "CA$36.00"]


def test_districts_and_crews_have_their_amounts_those_without_one_last():
    groups = {
        group["name"]: [(text_of(row["name"]), text_of(row["forecast"])) for row in group["rows"]]
        for group in _shown()["cost_groups"]
    }
    assert groups == {
        "district": [("North", "CA$105.00"), ("(no district)", "CA$15.00")],
        "crew": [("East", "CA$60.00"), ("not planned", "CA$60.00")],
    }


def test_several_registers_are_told_apart():
    rows = [*_ROWS[1:], ("grout", "North", "other", "East", "2026-W41", 3.0, "bag", 45.0)]
    group = _shown(rows)["cost_groups"][-1]
    assert group["name"] == "register"
    assert [text_of(row["forecast"]) for row in group["rows"]] == ["CA$75.00", "CA$45.00"]


def test_the_chart_is_cumulative_and_has_the_budget_of_the_whole_as_a_level_line():
    assert _curves(_shown()).replace("\u2068", "").replace("\u2069", "") == ("Forecast: 105 (2026-W41), 120 (2026-W42)")
    assert "Budget: 200 (" in _curves(_shown(weeks=_with_total(200.0)))
    assert "CA$" not in _curves(_shown())


def test_a_period_without_a_budget_of_its_own_adds_nothing_to_the_budget():
    weeks = [
        ("2026-W41", 105.0, 105.0, 80.0, 80.0, 25.0),
        ("2026-W42", 15.0, 120.0, math.nan, math.nan, math.nan),
        (None, 120.0, math.nan, 80.0, math.nan, 40.0),
    ]
    shown = _shown(weeks=weeks)
    assert _curves(shown).count("80 (") == 2
    assert shown["cost_weekly_budget"]
    assert not _shown()["cost_weekly_budget"]


def test_a_single_period_has_no_chart():
    assert _shown(weeks=[_WEEKS[1], _WEEKS[-1]])["cost_chart"] is None


@pytest.mark.parametrize(
    ("budget", "sentence"),
    [
        (200.0, "Budget: CA$200.00 . The forecast of CA$120.00 is CA$80.00 within it."),
        (100.0, "Budget: CA$100.00 . The forecast of CA$120.00 exceeds it by CA$20.00 ."),
        (120.0, "Budget: CA$120.00 . The forecast of CA$120.00 is CA$0.00 within it."),
    ],
)
def test_the_forecast_is_compared_with_the_budget(budget, sentence):
    assert text_of(_shown(weeks=_with_total(budget))["cost_line"]) == sentence


def test_without_a_budget_that_is_said():
    assert text_of(_shown()["cost_line"]).startswith("Forecast: CA$120.00 . No budget is set")


def test_without_prices_there_are_quantities_and_no_amounts():
    free = [(*row[:-1], math.nan) for row in _ROWS]
    shown = _shown(free, weeks=[])
    assert (shown["cost_line"], shown["cost_chart"], shown["cost_groups"], shown["cost_weeks"]) == (None, None, [], [])
    assert [text_of(row["quantity"]) for row in shown["cost_kinds"]] == ["4", "5"]
    assert [row["is_priced"] for row in shown["cost_kinds"]] == [False, False]


def test_without_costs_there_is_nothing_to_show():
    assert _shown([], weeks=[])["cost_kinds"] == []


def test_crew_days_that_are_shared_are_not_rounded_to_whole_days():
    shown = _shown([("crew days", "North", "cores", "East", "2026-W41", 0.5, "day", 700.0)])
    assert text_of(shown["cost_kinds"][0]["quantity"]) == "0.5"
