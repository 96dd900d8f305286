"""The sheets of the plan in the workbook, on the demo."""

from dataclasses import replace

import pytest

from pipeline.publish.orders.plan_sheets import not_planned_sheet, plan_sheet


def test_stops_are_by_crew_day_and_stop_under_heads_in_words(demo):
    sheet = plan_sheet(demo)
    assert not [head for head in sheet if "_" in head]
    order = sheet[["crew", "day", "stop"]]
    assert order.equals(order.sort_values(["crew", "day", "stop"]))
    assert sheet["core id"].tolist() == demo.plan.stops.sort_values(["crew", "day", "stop"])["core_id"].tolist()


def test_units_of_the_united_states_reach_every_quantity(demo):
    orders = demo.settings.orders.model_copy(update={"units": "us"})
    us = plan_sheet(replace(demo, settings=demo.settings.model_copy(update={"orders": orders})))
    metric = plan_sheet(demo)
    assert {"water (US gal)", "gravel (lb)", "chainage (ft)"} <= set(us)
    assert us["gravel (lb)"].sum() == pytest.approx(metric["gravel (kg)"].sum() / 0.45359237, abs=len(us) / 2)
    assert us["water (US gal)"].sum() == pytest.approx(metric["water (L)"].sum() / 3.785411784, abs=len(us) / 200)


def test_work_that_is_not_planned_has_its_id_its_reason_and_what_it_would_need(demo):
    sheet = not_planned_sheet(demo)
    assert sheet.columns.tolist() == [
        "core id", "district", "task", "reason", "what it would need", "net grout (bags)",
    ]  # fmt: skip
    assert sheet["core id"].tolist() == demo.plan.not_planned["core_id"].tolist()
