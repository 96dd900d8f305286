"""The plan, the orders, the loads and the purchases of the demo count the same bags, and no check finds a fault."""

import pandas as pd
import pytest

from pipeline.order.lines import item_of


def _planned(demo):
    stops = demo.plan.stops
    return stops[stops["task"].eq("reinstate")].join(demo.orders.plan[["period"]])


def test_no_check_finds_a_fault_in_the_plan(demo):
    assert demo.plan.faults.to_dict("records") == []


def test_no_day_is_longer_than_its_shift_and_no_truck_overloaded(demo):
    days = demo.plan.days
    assert days["end_min"].le(days["shift_end_min"] + 1e-6).all()
    assert days["load_kg"].le(days["carries_kg"] + 1e-6).all()


def test_the_bags_of_stops_mixes_and_days_are_the_same(demo):
    plan = demo.plan
    assert plan.stops["bags"].sum() == plan.mixes["bags"].sum() == plan.days["bags"].sum() > 0


def test_the_bags_of_the_orders_are_those_of_the_stops_by_district_period_and_shade(demo):
    stops = _planned(demo)
    planned = stops.groupby(["district", "period", stops["shade"].map(item_of)])["bags"].sum()
    lines = demo.orders.lines[demo.orders.lines["item"].isin(set(stops["shade"].map(item_of)))]
    ordered = lines.set_index(["district", "period", "item"])["packs"].astype(float)
    ordered.index = ordered.index.set_names(planned.index.names)
    pd.testing.assert_series_equal(planned.sort_index(), ordered.sort_index(), check_names=False)


def test_the_purchases_plan_for_the_bags_of_the_orders(demo):
    orders = demo.orders
    assert orders.purchases.groupby("item")["packs_planned"].sum().to_dict() == pytest.approx(
        orders.lines[orders.lines["packs"].notna()].groupby("item")["packs"].sum().astype(float).to_dict()
    )


def test_no_bound_is_above_the_plan(demo):
    bounds = demo.plan.bounds
    assert bounds["bound"].le(bounds["planned"] + 1e-6).all()


def test_the_objective_that_is_bounded_is_the_one_that_is_stated(demo):
    stated = demo.plan.objective.set_index("part").loc["objective", "minutes"]
    assert demo.plan.bounds.set_index("measure").loc["objective", "planned"] == pytest.approx(stated)
