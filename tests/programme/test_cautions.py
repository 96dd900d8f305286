"""The cautions for a core, by its state, surface and weight; and for a sheet of cores."""

import numpy as np
import pandas as pd
import pytest

from pipeline.contracts import CORE_STATES
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.cautions import (
    cautions_by_core,
    cautions_by_state,
    cautions_of_programme,
    cautions_of_sheets,
    lifting_caution,
)

_CATALOGUE = load_catalogue({}, "test")
_CAUTIONS = _CATALOGUE.core_cautions


def _columns(*rows):
    frame = pd.DataFrame(rows, columns=["state", "surface", "core_kg"])
    return frame["state"], frame["surface"], frame["core_kg"]


@pytest.mark.parametrize("state", CORE_STATES)
@pytest.mark.parametrize("surface", [*_CATALOGUE.surfaces, None])
def test_a_card_has_three_to_seven_cautions_and_each_fits_on_a_few_lines(state, surface):
    lines = [*cautions_by_state(_CAUTIONS, state, surface), lifting_caution(_CAUTIONS, 80)]
    assert 3 <= len(lines) <= 7
    assert len(set(lines)) == len(lines)
    assert max(map(len, lines)) <= 170


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("open", ["main", "edge", "plate", "signs"]),
        ("plated", ["by machine", "overlap", "rated for the traffic", "live main"]),
        ("interim", ["Breaking out", "Cut wet", "cannot be seen", "signs"]),
        ("back", ["signs", "inspect", "does not require lifting", "road authority"]),
        ("unknown", ["treat it as an open hole", "signs"]),
    ],
)
def test_each_state_has_the_hazards_of_its_own(state, words):
    text = " ".join(cautions_by_state(_CAUTIONS, state))
    assert not [word for word in words if word not in text]


@pytest.mark.parametrize("state", [state for state in CORE_STATES if state != "back"])
def test_a_core_to_be_reinstated_has_the_cautions_on_reuse_and_reopening_and_that_of_its_surface(state):
    lines = cautions_by_state(_CAUTIONS, state, "composite")
    assert "Before reuse: inspect the core." in " ".join(lines)
    assert "The data sheet of the bag, the temperature and the road authority decide" in " ".join(lines)
    assert "Grout: the data sheet of the bag decides on water, temperature and working time." in lines
    assert lines[-1] == _CATALOGUE.surfaces["composite"].cautions[0]


def test_a_core_that_is_back_has_no_caution_on_reinstating():
    assert cautions_by_state(_CAUTIONS, "back", "composite") == _CAUTIONS.state.back


def test_a_programmes_own_cautions_for_a_surface_take_the_place_of_the_shipped_ones():
    overridden = {
        "catalogue.surfaces.asphalt.cautions": ["Hot: keep off."],
        "catalogue.surfaces.resin": {"aliases": ["resin"], "reinstate": False, "cautions": ["Resin: ask first."]},
        "catalogue.surfaces.concrete.shade": "dark",
        "catalogue.rules.open-too-long.max_open": "20 day",
    }
    own = cautions_of_programme(_CAUTIONS, overridden).surface
    assert (own["asphalt"], own["resin"]) == (["Hot: keep off."], ["Resin: ask first."])
    assert own["concrete"] == _CAUTIONS.surface["concrete"]
    assert set(own) == {*_CAUTIONS.surface, "resin"}


def test_a_state_that_no_one_knows_is_the_unknown_one():
    assert cautions_by_state(_CAUTIONS, "nan", "asphalt") == cautions_by_state(_CAUTIONS, "unknown", "asphalt")


@pytest.mark.parametrize(
    ("core_kg", "text"),
    [
        (85.1, "Core: about 85 kg (188 lb). Lift it by machine"),
        # 51 lb, the most for one person, is 23.1 kg; the limit is taken as 23 kg
        (23.01, "Core: about 23 kg (51 lb). Lift it by machine"),
        (23.0, "Core: about 23 kg (51 lb). Lift it with two people or by machine"),
        (float("nan"), "Core: lift it by machine"),
    ],
)
def test_the_caution_on_lifting_names_the_weight_and_asks_for_a_machine_above_the_limit(core_kg, text):
    assert lifting_caution(_CAUTIONS, core_kg).startswith(text)


def test_each_core_has_its_own_cautions_in_the_order_of_the_cores():
    columns = _columns(("open", "asphalt", 85.4), ("back", None, None), ("open", "asphalt", 85.1))
    texts = cautions_by_core(_CAUTIONS, *columns)
    assert texts[0] == texts[2] != texts[1]
    assert texts[0].startswith(_CAUTIONS.state.open[0])
    assert texts[0].endswith("Core: about 85 kg (187 lb). " + texts[0].split("lb). ")[1])
    assert texts[1] == " ".join([*_CAUTIONS.state.back, _CAUTIONS.lifting.not_known])


def test_no_cores_are_no_error():
    columns = [column.astype(kind) for column, kind in zip(_columns(), ("str", "str", float), strict=True)]
    assert cautions_by_core(_CAUTIONS, *columns).empty
    assert cautions_of_sheets(_CAUTIONS, columns[2].astype(int), *columns).empty


def _lines(columns):
    """Return the cautions of one sheet, core by core in the order of the states."""
    states, surfaces, core_kg = columns
    cores = sorted(zip(states, surfaces, strict=True), key=lambda core: (CORE_STATES.index(core[0]), core[1]))
    lines = [line for state, surface in cores for line in cautions_by_state(_CAUTIONS, state, surface)]
    return list(dict.fromkeys([*lines, lifting_caution(_CAUTIONS, core_kg.max(), is_of_sheet=True)]))


def test_the_cautions_of_many_sheets_are_those_of_each_by_itself():
    random = np.random.default_rng(1)
    cores = pd.DataFrame(
        {
            "sheet": random.integers(0, 40, 300),
            "state": random.choice(CORE_STATES, 300),
            "surface": random.choice([*_CATALOGUE.surfaces], 300),
            "core_kg": np.where(random.random(300) < 0.1, np.nan, random.random(300) * 200),
        }
    )
    texts = cautions_of_sheets(_CAUTIONS, cores["sheet"], cores["state"], cores["surface"], cores["core_kg"])
    assert texts.index.tolist() == sorted(set(cores["sheet"]))
    for sheet, mine in cores.groupby("sheet"):
        assert texts[sheet] == " ".join(_lines((mine["state"], mine["surface"], mine["core_kg"])))


def test_a_sheet_has_each_caution_once_by_state_and_names_the_heaviest_core():
    columns = _columns(("back", "asphalt", 30.0), ("open", "concrete", 120.1), ("open", "composite", None))
    text = cautions_of_sheets(_CAUTIONS, pd.Series([7, 7, 7]), *columns)[7]
    lines = _lines(columns)
    assert text == " ".join(lines)
    assert lines[:2] == _CAUTIONS.state.open
    assert len(lines) == len(set(lines))
    assert lines.index(_CAUTIONS.state.open[0]) < lines.index(_CAUTIONS.state.back[0])
    assert {_CAUTIONS.surface["concrete"][0], _CAUTIONS.surface["composite"][0]} < set(lines)
    assert lines[-1].startswith("Cores: the heaviest is about 120 kg (265 lb).")
