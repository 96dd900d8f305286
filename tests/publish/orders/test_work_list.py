"""The work list, from a few cores by hand."""

from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.programme.catalogue import load_catalogue
from pipeline.publish.orders.work_list import whole_weights, work_list

_CATALOGUE = load_catalogue({}, "test")


def _result(*rows, units="metric"):
    """Rows of id, district, first day of the period, day, urgency and weight."""
    frame = pd.DataFrame(rows, columns=["core_id", "district", "period_start", "day", "urgency", "core_kg"])
    days = {name: pd.to_datetime(frame[name]) for name in ("period_start", "day")}
    cores = frame.assign(
        row=range(1, len(frame) + 1), crew="Crew A", street_matched=["Quay", None, *["Quay"] * (len(frame) - 2)],
        street="Old Quay", chainage_m=12.34, state="plated", status="pending", surface="asphalt", shade="dark",
        findings="a-b;c-d",
    )  # fmt: skip
    plan = pd.DataFrame({**days, "period": frame["period_start"].str[:7], "bags_mixed": 0.5})
    # a core that nothing is ordered for is on no list
    cores = pd.concat([cores, cores.tail(1).assign(core_id="none")], ignore_index=True)
    return SimpleNamespace(
        cores=cores,
        orders=SimpleNamespace(plan=plan),
        catalogue=_CATALOGUE,
        settings=SimpleNamespace(orders=SimpleNamespace(units=units)),
    )


_ROWS = [
    ("A", "West", "2026-10-05", "2026-10-05", None, 80.4),
    ("B", "West", "2026-10-05", "2026-10-07", "hazard", 120.1),
    ("C", "West", "2026-09-28", "2026-09-28", "record", None),
    ("D", None, "2026-10-05", "2026-10-05", "overdue", 60.0),
    ("E", "West", "2026-10-05", "2026-10-06", "hazard", 40.0),
]


def test_hazards_come_first_within_a_district_and_period():
    found = work_list(_result(*_ROWS))
    assert found["core id"].tolist() == ["D", "C", "E", "B", "A"]
    assert found["district"].tolist() == ["(no district)", "West", "West", "West", "West"]


def test_a_line_has_the_state_the_urgency_and_the_weight_of_its_core():
    lines = work_list(_result(*_ROWS)).set_index("core id")
    assert lines.loc["B", ["state", "urgency", "core weighs about (kg)", "findings"]].tolist() == [
        "plated", "hazard", 120, "a-b; c-d",
    ]  # fmt: skip
    assert pd.isna(lines.loc["C", "core weighs about (kg)"])
    assert lines.loc[["A", "B"], "street"].tolist() == ["Quay", "Old Quay"]


def test_a_line_has_the_cautions_for_the_state_the_surface_and_the_weight_of_its_core():
    lines = work_list(_result(*_ROWS)).set_index("core id")
    said = lines.loc["B", "cautions"]
    assert said.startswith("Plate: lift it by machine only")
    assert "Before reuse: inspect the core." in said
    assert "Grout: the data sheet of the bag decides on water" in said
    assert "Core: about 120 kg (265 lb). Lift it by machine" in said
    assert "Core: lift it by machine" in lines.loc["C", "cautions"]


def test_weights_are_in_the_units_of_the_orders():
    lines = work_list(_result(*_ROWS, units="us")).set_index("core id")
    # 120.1 kg / 0.45359237 = 264.8
    assert lines.loc["B", "core weighs about (lb)"] == 265


@pytest.mark.parametrize(("units", "shown"), [("metric", [85.0, None]), ("us", [188.0, None])])
def test_a_weight_is_only_about_right_so_it_is_whole(units, shown):
    found = whole_weights(pd.Series([85.1, None]), units)
    assert found.astype(object).where(found.notna(), None).tolist() == shown


def test_nothing_to_reinstate_is_a_list_without_lines():
    assert work_list(_result(*_ROWS[:2])).shape[0] == 2
    empty = _result(*_ROWS)
    empty.orders.plan = empty.orders.plan.iloc[:0]
    assert work_list(empty).empty
