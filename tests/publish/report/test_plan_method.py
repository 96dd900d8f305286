"""How the plan was made, in the report: objective, bounds, crews, minutes, travel and faults."""

from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.contracts import PLAN_TABLES, names_of
from pipeline.publish.report.plan_method import plan_method
from pipeline.publish.words import words_of
from tests.publish.report.pages import text_of

_WORDS = words_of("en")
_CREW = {
    "crew": "East", "starts_from": "Mill yard", "shift_start_min": 425.0, "shift_end_min": 930.0, "break_min": 30.0,
    "carries_kg": 1000.0, "districts": "East; West", "surfaces": None, "work_days": 12, "origin": "default",
}  # fmt: skip
_TRAVEL = SimpleNamespace(legs=207, metres=57_123.4, straight_legs=2, ratio=1.587)


def _table(name, *rows):
    return pd.DataFrame(list(rows), columns=list(names_of(PLAN_TABLES[name])))


def _shown(*, units="metric", waits=True, **tables):
    plan = {
        "bounds": _table("bounds"), "crews": _table("crews", _CREW), "minutes": _table("minutes"),
        "faults": _table("faults"), "days": _table("days"), "travel": _TRAVEL, "notices": ["3 gaps were closed."], "objective": pd.DataFrame(),
    } | tables  # fmt: skip
    settings = SimpleNamespace(
        orders=SimpleNamespace(units=units, working_time_min=10.0, speed_km_h=5.0),
        plan=SimpleNamespace(waits=waits, speed_km_h=25.0),
    )
    return plan_method(SimpleNamespace(plan=SimpleNamespace(**plan), settings=settings), _WORDS)


def test_a_crew_has_its_start_its_shift_and_what_its_truck_carries():
    (row,) = _shown()["plan_crew_rows"]
    assert {name: text_of(value) for name, value in row.items()} == {
        "crew": "East", "start": "Mill yard", "shift": "07:05–15:30, 30 min break", "carries": "1,000 kg",
        "districts": "East; West", "surfaces": "all", "days": "12", "origin": "default",
    }  # fmt: skip


def test_weights_and_distances_are_in_the_units_of_the_orders():
    shown = _shown(units="us")
    # 1,000 kg / 0.45359237 = 2,204.6 lb; 57,123.4 m / 1,609.344 = 35.49 mi
    assert text_of(shown["plan_crew_rows"][0]["carries"]) == "2,205 lb"
    assert "35 mi on 207 legs" in text_of(shown["plan_travel"])


def test_travel_has_its_length_its_straight_legs_and_its_detour():
    assert text_of(_shown()["plan_travel"]) == (
        "The crews travel 57 km on 207 legs, of which 2 along straight lines. Along the roads, a leg is 1.59 times as "
        "long as the straight line (median)."
    )
    assert _shown(travel=SimpleNamespace(legs=0))["plan_travel"] is None


def test_a_bound_has_its_gap_unless_it_is_zero():
    bound = {"measure": "bags to mix", "planned": 248.0, "bound": 245.0, "gap": 3 / 245, "relaxed": "nothing"}
    rows = _shown(bounds=_table("bounds", bound, bound | {"bound": 0.0, "gap": None}))["plan_bounds"]
    assert [(row["planned"], row["bound"], row["gap"]) for row in rows] == [("248", "245", "1.2%"), ("248", "0", "")]


def test_the_objective_has_its_parts_and_its_sum():
    parts = pd.DataFrame(
        {"part": ["travel", "all"], "value": [120.0, None], "unit": ["min", None], "weight": [1.0, None],
         "minutes": [120.0, 4120.0]}
    )  # fmt: skip
    rows = _shown(objective=parts)["plan_objective"]
    assert [(text_of(row["part"]), row["value"], row["weight"], row["minutes"]) for row in rows] == [
        ("travel", "120", "1", "120"), ("all", "", "", "4,120"),
    ]  # fmt: skip


def test_minutes_have_a_row_per_step_and_origin_and_a_column_per_size_and_surface():
    """Setting up differs by surface and pouring by size; a survey takes the same everywhere."""

    def row(step, size, surface, minutes, cores, origin):
        return {
            "step": step, "size": size, "surface": surface, "minutes": minutes, "cores": cores, "origin": origin
        }  # fmt: skip

    minutes = _table(
        "minutes",
        row("set up", "all", "asphalt", 12.5, 40, "learnt"),
        row("set up", "all", "rigid", 15.0, 0, "our default"),
        row("pour", "up to 18 in", "all", 2.0, 0, "our default"),
        row("pour", "over 18 in", "all", 3.0, 0, "our default"),
        row("survey", "all", "all", 10.0, 0, "programme"),
    )
    shown = _shown(minutes=minutes)
    assert [" ".join(map(text_of, kind)) for kind in shown["plan_minutes_heads"]] == [
        "up to 18 in asphalt", "up to 18 in rigid", "over 18 in asphalt", "over 18 in rigid",
    ]  # fmt: skip
    rows = [(text_of(r["step"]), r["minutes"], text_of(r["origin"]), r["cores"]) for r in shown["plan_minutes"]]
    assert rows == [
        ("set up", ["12.5", "", "12.5", ""], "learnt", "40"),
        ("set up", ["", "15", "", "15"], "our default", ""),
        ("pour", ["2", "2", "3", "3"], "our default", ""),
        ("survey", ["10", "10", "10", "10"], "programme", ""),
    ]


def test_faults_are_shown_up_to_twenty_and_the_rest_is_counted():
    fault = {
        "check": "shift",
        "crew": "East",
        "day": pd.Timestamp("2026-10-05"),
        "core_id": "HV-1",
        "fault": "ends late",
    }
    shown = _shown(faults=_table("faults", *[fault] * 22))
    assert (len(shown["plan_faults"]), shown["plan_faults_left"]) == (20, 2)
    assert text_of(shown["plan_faults"][0]["day"]) == "5 Oct 2026"


@pytest.mark.parametrize(("waits", "expected"), [(True, "stay at a core until"), (False, "stays covered until then")])
def test_the_time_model_says_whether_crews_wait_for_traffic(waits, expected):
    assert expected in text_of(_shown(waits=waits)["plan_model"])
