"""The shipped configuration: cautions that crews read, words of street names, sources."""

import math
import tomllib

import pandas as pd
import pytest

from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.resources import shipped
from pipeline.units import quantity

_CATALOGUE = load_catalogue({}, "test")


def test_cautions_cover_every_hazard_of_the_work_and_defer_to_local_codes():
    first, *rest = _CATALOGUE.cautions
    assert first.startswith("Local codes, the road authority's specification")
    hazards = [
        "Traffic",
        "Buried services",
        "Silica dust",
        "Cement dust",
        "Wet grout",
        "Lifting",
        "Open holes and plates",
        "Before reuse",
        "Grout",
        "Reopening",
        "Pressure washing",
    ]
    assert [caution.split(":")[0].split(" burns")[0] for caution in rest] == hazards


def test_the_weight_in_the_caution_is_that_of_a_concrete_cylinder():
    # pi/4 x 0.4572 m x 0.4572 m x 0.3048 m x 2400 kg/m³ = 120.1 kg
    weight = math.pi / 4 * 0.4572**2 * 0.3048 * 2400
    (lifting,) = (caution for caution in _CATALOGUE.cautions if caution.startswith("Lifting"))
    assert f"about {weight:.0f} kg" in lifting


def test_the_specified_water_ratio_is_that_of_the_water_and_the_bag():
    grout = _CATALOGUE.materials.grout
    written = _CATALOGUE.rules["water-ratio-off"].thresholds["specified_ratio"]
    assert quantity(written, "L/kg") == pytest.approx(grout.water_per_bag.value / grout.bag.value, rel=1e-9)


def test_words_of_street_names_have_their_short_form():
    words = _CATALOGUE.short_words
    assert (words["street"], words["saint"], words["boulevard"], words["north"]) == ("st", "st", "blvd", "n")


def _texts(value):
    """Every text of a file, keys left out."""
    if isinstance(value, dict):
        return [text for inner in value.values() for text in _texts(inner)]
    if isinstance(value, list):
        return [text for inner in value for text in _texts(inner)]
    return [value] if isinstance(value, str) else []


@pytest.mark.parametrize("name", ["surfaces", "materials", "roads", "street_words", "shades", "conditions", "cautions"])
def test_a_sentence_for_crews_ends_in_a_full_stop_and_has_one_blank_between_words(name):
    written = tomllib.loads((shipped("config") / f"{name}.toml").read_text("utf-8"))
    assert _texts(written)
    for text in _texts(written):
        assert text == " ".join(text.split())
    cautions = written.get("cautions", [])
    for caution in [
        *cautions,
        *(line for table in written.values() if isinstance(table, dict) for line in table.get("cautions", [])),
    ]:
        assert caution[0].isupper()
        assert caution.endswith(".")


@pytest.mark.parametrize("name", [name for name, surface in _CATALOGUE.surfaces.items() if not surface.reinstate])
def test_a_surface_without_reinstatement_says_what_to_do_instead(name):
    assert len(_CATALOGUE.surfaces[name].cautions) == 1


def test_the_condition_of_a_core_has_its_fault_or_none():
    cells = pd.Series(
        ["Sound", "OK", "open-cracks", "layers apart", "undercut", "TOO SHORT", "see photo", None], dtype="str"
    )
    faults = _CATALOGUE.core_faults(cells).fillna("").tolist()
    assert faults == ["none", "none", "cracked", "delaminated", "undermined", "too short", "", ""]


@pytest.mark.parametrize(
    "written", ["crcp", "JRCP", "Reinforced concrete", "continuously reinforced concrete pavement"]
)
def test_reinforced_concrete_is_rigid_and_no_core_is_put_back_into_it_unasked(written):
    name = _CATALOGUE.surface_names(pd.Series([written], dtype="str"))[0]
    surface = _CATALOGUE.surfaces[name]
    assert (name, surface.reinstate, surface.shade, surface.is_rigid) == ("reinforced concrete", False, None, True)
    assert "unless the road authority agrees" in surface.cautions[0]


@pytest.mark.parametrize("written", ["jpcp", "concrete", "pcc"])
def test_plain_concrete_stays_plain(written):
    assert _CATALOGUE.surface_names(pd.Series([written], dtype="str"))[0] == "concrete"


def test_the_times_and_the_bed_are_what_crews_state():
    """Common practice, no source: firm after about 20 minutes and open to traffic 30 minutes after the start, at 70 degF; a
    bed of about 1 in of gravel, and in the dry fit the core sits about 1/2 in low, which is the gap below it.
    """
    catalogue = load_catalogue({}, "test")
    materials, reopening = catalogue.materials, catalogue.rules["reopened-too-soon"].thresholds
    assert materials.grout.firm_after.value == 20
    assert (reopening["supplier_time"], reopening["supplier_temperature"]) == ("30 min", "70 degF")
    assert materials.geometry.gap.value == pytest.approx(25.4 / 2)
    assert materials.bedding["pea gravel"].thickness.value == pytest.approx(25.4, abs=0.5)


def test_the_rule_on_water_asks_for_the_water_that_a_bag_takes():
    """2.0 L for 20 kg are 0.10 L/kg: one figure in two files."""
    grout = _CATALOGUE.materials.grout
    written = _CATALOGUE.rules["water-ratio-off"].thresholds["specified_ratio"]
    assert quantity(str(written), "L/kg") == pytest.approx(grout.water_per_bag.value / grout.bag.value)
