"""What crews load in the first week of the plan, by hand."""

import pandas as pd
import pytest

from pipeline.order.loads import LOAD_COLUMNS, crew_loads
from pipeline.programme.catalogue import load_catalogue

_CATALOGUE = load_catalogue({}, "test")


def _planned(*rows, **columns):
    """Rows of day, shade, net bags and bags opened: stops of Crew A in East, on asphalt, each with its own mix."""
    frame = pd.DataFrame(rows, columns=["day", "shade", "bags", "bags_opened"])
    number = range(1, len(frame) + 1)
    frame = frame.assign(
        day=pd.to_datetime(frame["day"]), crew="Crew A", district="East", bedding="pea gravel", surface="asphalt",
        row=number, stop=number, mix=pd.Series(number, dtype="Int64"), core_id=[f"C-{one}" for one in number],
        grout_kg=frame["bags"] * 20, water_l_needed=frame["bags"] * 2, gravel_kg=6.5, state="open", urgency=None,
        core_kg=80.0,
    ).assign(**columns)  # fmt: skip
    return frame.assign(visit=frame["day"].astype("str") + ", " + frame["crew"])


def _loads(cores):
    return crew_loads(cores, _CATALOGUE)


def _texts(column):
    return [None if pd.isna(text) else text for text in column]


_DAY = "2026-10-01"


def test_a_crew_loads_the_bags_gravel_and_water_of_its_day():
    # two bags: one mix of both cores, opened at the first
    loads = _loads(_planned((_DAY, "dark", 0.6, 2.0), (_DAY, "dark", 0.7, 0.0), mix=pd.Series([1, 1], dtype="Int64")))
    assert loads.columns.tolist() == list(LOAD_COLUMNS)
    by_item = loads.set_index("item")[["needed", "carry", "unit"]].T.to_dict("list")
    assert by_item["grout dark"] == [pytest.approx(26), 40, "kg"]
    assert by_item["pea gravel"] == [13, 25, "kg"]
    assert by_item["water"] == [pytest.approx(2.6), 4, "L"]
    assert loads["cores"].unique().tolist() == [2]
    assert loads["packs"].astype(object).where(loads["packs"].notna(), None).tolist() == [2, 1, None]


def test_grout_of_a_shade_names_the_cores_of_that_shade_alone():
    loads = _loads(_planned((_DAY, "dark", 0.5, 1.0), (_DAY, "pale", 0.5, 1.0), (_DAY, "dark", 0.5, 1.0)))
    assert loads.set_index("item")[["core_ids", "cores"]].T.to_dict("list") == {
        "grout dark": ["C-1; C-3", 2],
        "grout pale": ["C-2", 1],
        "pea gravel": ["C-1; C-2; C-3", 3],
        "water": ["C-1; C-2; C-3", 3],
    }


def test_two_shades_of_one_day_are_loaded_apart_with_the_water_of_both():
    loads = _loads(_planned((_DAY, "dark", 0.5, 1.0), (_DAY, "pale", 0.5, 1.0)))
    assert loads["item"].tolist() == ["grout dark", "grout pale", "pea gravel", "water"]
    assert loads.set_index("item").loc["water", "carry"] == 4


def test_grout_says_which_cores_share_a_mix():
    rows = [(_DAY, "dark", 0.4, 1.0), (_DAY, "dark", 0.4, 0.0), (_DAY, "pale", 0.4, 1.0), (_DAY, "dark", 0.4, 1.0)]
    loads = _loads(_planned(*rows, mix=pd.Series([12, 12, 13, 14], dtype="Int64")))
    assert _texts(loads["mixes"]) == ["mix 12: C-1 + C-2", None, None, None]


@pytest.mark.parametrize(("day", "is_loaded"), [("2026-10-07", True), ("2026-10-08", False)])
def test_the_week_has_seven_days_from_the_first_of_the_plan(day, is_loaded):
    loads = _loads(_planned((_DAY, "dark", 0.5, 1.0), (day, "dark", 0.5, 1.0)))
    assert (day in set(loads["day"])) == is_loaded


def test_half_bags_are_carried_as_mixed_and_packed_whole():
    loads = _loads(_planned((_DAY, "dark", 1.4, 1.5))).set_index("item")
    assert (loads.loc["grout dark", "carry"], loads.loc["grout dark", "packs"]) == (30, 2)


def test_loads_are_in_the_order_of_day_and_crew():
    rows = [("2026-10-02", "dark", 0.5, 1.0), (_DAY, "dark", 0.5, 1.0), (_DAY, "dark", 0.5, 1.0)]
    loads = _loads(_planned(*rows, crew=["Crew A", "Crew B", "Crew A"]))
    grout = loads[loads["item"].eq("grout dark")]
    assert grout[["day", "crew"]].to_numpy().tolist() == [
        [_DAY, "Crew A"], [_DAY, "Crew B"], ["2026-10-02", "Crew A"],
    ]  # fmt: skip


def test_a_day_in_two_districts_is_one_load_that_names_both():
    loads = _loads(_planned((_DAY, "dark", 0.5, 1.0), (_DAY, "dark", 0.5, 1.0), district=["West", "East"]))
    assert loads["district"].unique().tolist() == ["West; East"]
    assert loads["item"].tolist() == ["grout dark", "pea gravel", "water"]


def test_cores_are_named_in_the_order_of_the_stops_and_one_without_an_id_says_so():
    cores = _planned((_DAY, "dark", 0.1, 1.0), (_DAY, "dark", 0.1, 1.0), stop=[2, 1], core_id=[None, "C-2"])
    assert _loads(cores)["core_ids"].unique().tolist() == ["C-2; (no id)"]


def test_cores_with_a_hazard_come_first_and_are_named():
    cores = _planned(*[(_DAY, "dark", 0.1, 1.0)] * 4, urgency=["quality", "hazard", None, "hazard"])
    assert _loads(cores)["core_ids"].unique().tolist() == ["C-2; C-4; C-1; C-3"]
    assert _loads(cores)["hazards"].unique().tolist() == ["C-2; C-4"]


def test_a_load_says_how_many_cores_are_in_each_state_and_what_the_heaviest_weighs():
    three = [(_DAY, "dark", 0.1, 1.0)] * 3
    loads = _loads(_planned(*three, state=["plated", "open", "plated"], core_kg=[80.0, 120.4, None]))
    assert loads["states"].unique().tolist() == ["1 open; 2 plated"]
    assert loads["heaviest_core_kg"].unique().tolist() == [120.4]
    assert loads["hazards"].isna().all()


def test_the_cautions_are_those_of_the_states_and_surfaces_each_once():
    texts = _CATALOGUE.core_cautions
    rows = [(_DAY, "pale", 0.5, 1.0)] * 3
    cores = _planned(*rows, surface=["concrete", "asphalt", "concrete"], state=["plated", "open", "open"])
    cautions = _loads(cores)["cautions"].iloc[0]
    for line in (*texts.state.open, *texts.state.plated, *texts.reinstating.cautions, *texts.surface["concrete"]):
        assert cautions.count(line) == 1
    assert cautions.endswith(
        "Cores: the heaviest is about 80 kg (176 lb). Lift cores by machine, never by hand, and never stand beneath a "
        "load."
    )


def test_nothing_planned_is_a_table_without_rows():
    loads = _loads(_planned((_DAY, "dark", 0.5, 1.0)).iloc[:0])
    assert loads.empty
    assert loads.columns.tolist() == list(LOAD_COLUMNS)


def test_the_states_of_a_line_are_in_the_order_of_the_work_and_not_of_the_alphabet():
    loads = _loads(_planned(*[(_DAY, "dark", 0.5, 1.0)] * 4, state=["interim", "open", "plated", "open"]))
    assert loads["states"].unique().tolist() == ["2 open; 1 plated; 1 interim"]
