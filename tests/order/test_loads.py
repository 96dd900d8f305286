"""What crews load in the first week, by hand."""

import datetime as dt

import pandas as pd
import pytest

from pipeline.order.loads import LOAD_COLUMNS, crew_loads
from pipeline.programme.catalogue import load_catalogue

_CATALOGUE = load_catalogue({}, "test")
_AS_OF = dt.date(2026, 9, 30)


def _served(*rows):
    """Rows of visit, day, shade and bags; by one crew, in one district, on asphalt."""
    frame = pd.DataFrame(rows, columns=["visit", "day", "shade", "bags"])
    return frame.assign(
        day=pd.to_datetime(frame["day"]), planned_by="plan", crew="Crew A", district="East", bedding="pea gravel",
        surface="asphalt", row=range(1, len(frame) + 1), core_id=[f"C-{number}" for number in range(1, len(frame) + 1)],
        grout_kg=frame["bags"] * 20, water_l_needed=frame["bags"] * 2, gravel_kg=6.5,
        state="open", urgency=None, core_kg=80.0,
    )  # fmt: skip


def _loads(served, *visits):
    return crew_loads(served, pd.DataFrame(visits, columns=["visit", "shade", "shared"]), _CATALOGUE, _AS_OF)


def test_a_visit_loads_its_bags_gravel_and_water():
    loads = _loads(_served(("v", "2026-10-01", "dark", 0.6), ("v", "2026-10-01", "dark", 0.7)), ("v", "dark", 2.0))
    assert loads.columns.tolist() == list(LOAD_COLUMNS)
    by_item = loads.set_index("item")[["needed", "carry", "unit"]].T.to_dict("list")
    assert by_item["grout dark"] == [26, 40, "kg"]
    assert by_item["pea gravel"] == [13, 25, "kg"]
    assert by_item["water"] == [pytest.approx(2.6), 4, "L"]
    assert loads["cores"].unique().tolist() == [2]
    assert loads["packs"].astype(object).where(loads["packs"].notna(), None).tolist() == [2, 1, None]


@pytest.mark.parametrize(
    ("day", "loaded"), [("2026-09-30", True), ("2026-10-06", True), ("2026-10-07", False), (None, False)]
)
def test_the_week_has_seven_days_from_the_audit_date(day, loaded):
    loads = _loads(_served(("v", day, "dark", 0.5)), ("v", "dark", 1.0))
    assert loads.empty != loaded


def test_half_bags_are_carried_as_mixed_and_packed_whole():
    loads = _loads(_served(("v", "2026-10-01", "dark", 1.4)), ("v", "dark", 1.5)).set_index("item")
    assert (loads.loc["grout dark", "carry"], loads.loc["grout dark", "packs"]) == (30, 2)


def test_a_levelled_schedule_names_no_day():
    served = _served(("v", "2026-09-30", "dark", 0.5)).assign(planned_by="levelled schedule")
    assert _loads(served, ("v", "dark", 1.0))["day"].unique().tolist() == ["any day of the week"]


def test_two_shades_of_one_visit_are_loaded_apart_with_the_water_of_both():
    loads = _loads(
        _served(("v", "2026-10-01", "dark", 0.5), ("v", "2026-10-01", "pale", 0.5)),
        ("v", "dark", 1.0),
        ("v", "pale", 1.0),
    )
    assert loads["item"].tolist() == ["grout dark", "grout pale", "pea gravel", "water"]
    assert loads.set_index("item").loc["water", "carry"] == 4


def test_visits_are_in_the_order_of_day_and_crew():
    served = _served(
        ("b", "2026-10-02", "dark", 0.5), ("a", "2026-10-01", "dark", 0.5), ("c", "2026-10-01", "dark", 0.5)
    )
    served["crew"] = ["Crew A", "Crew B", "Crew A"]
    loads = _loads(served, ("a", "dark", 1.0), ("b", "dark", 1.0), ("c", "dark", 1.0))
    grout = loads[loads["item"].eq("grout dark")]
    assert grout[["day", "crew"]].to_numpy().tolist() == [
        ["2026-10-01", "Crew A"], ["2026-10-01", "Crew B"], ["2026-10-02", "Crew A"],
    ]  # fmt: skip


def test_cores_are_named_in_row_order_and_one_without_an_id_says_so():
    served = _served(("v", "2026-10-01", "dark", 0.1), ("v", "2026-10-01", "dark", 0.1)).iloc[::-1]
    served.loc[0, "core_id"] = None
    assert _loads(served, ("v", "dark", 1.0))["core_ids"].unique().tolist() == ["(no id); C-2"]


def test_cores_with_a_hazard_come_first_and_are_named():
    served = _served(*[("v", "2026-10-01", "dark", 0.1)] * 4)
    served["urgency"] = ["quality", "hazard", None, "hazard"]
    loads = _loads(served, ("v", "dark", 1.0))
    assert loads["core_ids"].unique().tolist() == ["C-2; C-4; C-1; C-3"]
    assert loads["hazards"].unique().tolist() == ["C-2; C-4"]


def test_a_visit_says_how_many_cores_are_in_each_state_and_what_the_heaviest_weighs():
    served = _served(*[("v", "2026-10-01", "dark", 0.1)] * 3)
    served = served.assign(state=["plated", "open", "plated"], core_kg=[80.0, 120.4, None])
    loads = _loads(served, ("v", "dark", 1.0))
    assert loads["states"].unique().tolist() == ["1 open; 2 plated"]
    assert loads["heaviest_core_kg"].unique().tolist() == [120.4]
    assert loads["hazards"].isna().all()


def test_the_cautions_are_those_of_the_states_and_surfaces_each_once():
    texts = _CATALOGUE.core_cautions
    served = _served(*[("v", "2026-10-01", "pale", 0.5)] * 3)
    served = served.assign(surface=["concrete", "asphalt", "concrete"], state=["plated", "open", "open"])
    cautions = _loads(served, ("v", "pale", 2.0))["cautions"].iloc[0]
    for line in (*texts.state.open, *texts.state.plated, *texts.reinstating.cautions, *texts.surface["concrete"]):
        assert cautions.count(line) == 1
    assert cautions.endswith(
        "Cores: the heaviest is about 80 kg (176 lb). Lift cores by machine, never by hand, and never stand beneath a "
        "load."
    )


def test_nothing_due_is_a_table_without_rows():
    loads = _loads(_served(("v", "2027-01-01", "dark", 0.5)), ("v", "dark", 1.0))
    assert loads.empty
    assert loads.columns.tolist() == list(LOAD_COLUMNS)
