"""The work list, from a few stops by hand."""

from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.programme.catalogue import load_catalogue
from pipeline.publish.orders.work_list import caution_key, whole_weights, work_list

_CATALOGUE = load_catalogue({}, "test")


def _result(*rows, units="metric"):
    """Rows of id, crew, day, stop, task, urgency and weight; a core of no stop comes last."""
    frame = pd.DataFrame(rows, columns=["core_id", "crew", "day", "stop", "task", "urgency", "core_kg"])
    cores = frame.assign(
        district=None, street_matched=["Quay", None, *["Quay"] * (len(frame) - 2)], street="Old Quay", chainage_m=12.34,
        state=["open", *["plated"] * (len(frame) - 1)], status="pending", surface="asphalt", findings="a-b;c-d",
    )  # fmt: skip
    mixed = frame["task"].eq("reinstate")
    stops = frame.assign(
        day=pd.to_datetime(frame["day"]), bags=0.5, mix=pd.Series(range(1, len(frame) + 1), dtype="Int64").where(mixed),
        shade=pd.Series("dark", frame.index).where(mixed),
    )  # fmt: skip
    cores = pd.concat([cores, cores.tail(1).assign(core_id="none")], ignore_index=True)
    return SimpleNamespace(
        cores=cores,
        plan=SimpleNamespace(stops=stops),
        catalogue=_CATALOGUE,
        settings=SimpleNamespace(orders=SimpleNamespace(units=units)),
    )


_ROWS = [
    ("A", "Crew B", "2026-10-05", 1, "reinstate", None, 80.4),
    ("B", "Crew A", "2026-10-06", 1, "reinstate", "hazard", 120.1),
    ("C", "Crew A", "2026-10-05", 2, "survey", "record", None),
    ("D", "Crew A", "2026-10-05", 1, "make safe", "hazard", 60.0),
]


def test_every_stop_is_listed_by_crew_day_and_stop():
    found = work_list(_result(*_ROWS))
    assert found["core id"].tolist() == ["D", "C", "B", "A"]
    assert found["task"].tolist() == ["make safe", "survey", "reinstate", "reinstate"]
    assert found["district"].unique().tolist() == ["(no district)"]


def test_only_what_is_mixed_has_bags_and_a_shade():
    lines = work_list(_result(*_ROWS)).set_index("core id")
    assert lines["bags to mix"].notna().tolist() == [False, False, True, True]
    assert lines["shade"].notna().tolist() == [False, False, True, True]


def test_a_line_has_the_state_the_urgency_and_the_weight_of_its_core():
    lines = work_list(_result(*_ROWS)).set_index("core id")
    assert lines.loc["B", ["state", "urgency", "core weighs about (kg)", "findings"]].tolist() == [
        "plated", "hazard", 120, "a-b; c-d",
    ]  # fmt: skip
    assert pd.isna(lines.loc["C", "core weighs about (kg)"])
    assert lines.loc[["A", "B"], "street"].tolist() == ["Quay", "Old Quay"]


def test_the_cautions_are_letters_that_the_key_explains_once():
    result = _result(*_ROWS)
    assert work_list(result).set_index("core id")["cautions"].to_dict() == {"D": "A", "C": "A", "B": "A", "A": "B"}
    plated, is_open = caution_key(result)
    assert plated.startswith("Cautions A: Plate: lift it by machine only")
    assert is_open.startswith("Cautions B: ")
    assert is_open != plated
    assert "Before reuse: inspect the core." in plated


def test_weights_and_chainages_are_in_the_units_of_the_orders():
    lines = work_list(_result(*_ROWS, units="us")).set_index("core id")
    # 120.1 kg / 0.45359237 = 264.8, and 12.34 m / 0.3048 = 40.5
    assert lines.loc["B", "core weighs about (lb)"] == 265
    assert lines.loc["B", "chainage (ft)"] == 40


@pytest.mark.parametrize(("units", "shown"), [("metric", [85.0, None]), ("us", [188.0, None])])
def test_a_weight_is_only_about_right_so_it_is_whole(units, shown):
    found = whole_weights(pd.Series([85.1, None]), units)
    assert found.astype(object).where(found.notna(), None).tolist() == shown


def test_no_stops_are_a_list_without_lines():
    empty = _result(*_ROWS)
    empty.plan.stops = empty.plan.stops.iloc[:0]
    assert work_list(empty).empty
    assert caution_key(empty) == []
