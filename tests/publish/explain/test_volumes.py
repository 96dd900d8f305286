"""Volumes with their numbers put in: worked by hand, and each printed step worked out again from what is printed."""

import math
import re

import pandas as pd
import pytest

from pipeline.publish.explain.volumes import grout_used_section, volumes_section
from tests.publish.explain.rows import SHOW, core, materials, table, texts

_ENDS = (" L", " kg", " bags, not rounded")


def _steps(section):
    """By name of a step, what is printed on each side of its equals signs."""
    steps = [text for text in texts(section) if " = " in text]
    return {step.partition(": ")[0]: step.partition(": ")[2] for step in steps}


def _worked_out(printed):
    """A printed calculation, worked out as arithmetic: units are left out, and 20% is 0.20."""
    plain = re.sub(r"([0-9.]+)%", r"(\1/100)", printed.replace(",", ""))
    plain = re.sub(r"mm³ per L|mm|kg/L|bags|kg|\bL\b", "", plain)
    for sign, meaning in {"π": str(math.pi), "×": "*", "÷": "/", "−": "-", "²": "**2"}.items():
        plain = plain.replace(sign, meaning)
    assert re.fullmatch(r"[0-9.()*/+ -]+", plain), plain
    return eval(plain)


def test_the_void_of_a_450_mm_core_by_hand():
    """Kerf: a disc of 450 mm less one of 432 mm, 202,500 - 186,624 = 15,876 mm²; x π/4 x 200 mm = 2,493,796 mm³.

    Pilot hole: 38.1² x π/4 x 200 = 228,018 mm³. Bed: 450² x π/4 x 12.7 = 2,019,847 mm³. Together 4,741,661 mm³.
    """
    steps = _steps(volumes_section(core(), materials(), "hole", SHOW))
    assert steps["Kerf"].endswith("= 2.4938 L")
    assert steps["Pilot hole"].endswith("= 0.2280 L")
    assert steps["Bed"].endswith("= 2.0198 L")
    assert steps["Void"] == "2.4938 L + 0.2280 L + 2.0198 L = 4.7417 L"
    assert steps["Wet grout"] == "4.7417 L × (1 + 20.0%) = 5.6900 L"
    assert steps["Bags"] == "5.6900 L × 2.15 kg/L ÷ (20 kg + 2 kg) = 0.5561 bags, not rounded"


def test_every_printed_step_comes_to_its_printed_result():
    steps = _steps(volumes_section(core(), materials(), "hole", SHOW))
    assert len(steps) == 9
    for step in steps.values():
        for part in step.split("; "):
            calculation, _, result = part.partition(" = ")
            number = float(result.replace(",", "").split()[0])
            # both sides are rounded to four decimals, and a sum or product carries that of its parts
            assert _worked_out(calculation) == pytest.approx(number, abs=1.5e-3), step


def test_a_recorded_diameter_of_the_core_is_widened_by_two_kerfs():
    section = volumes_section(core(diameter_mm=432.0), materials(), "core", SHOW)
    assert texts(section)[0] == "Hole: 432 mm core + 2 × 9 mm kerf = 450 mm. Depth of the core: 200 mm."


def test_each_value_has_its_source_and_who_set_it():
    own = materials(kerf=(9.0, "set by Quay 2026: measured", "programme"))
    said = texts(volumes_section(core(), own, "hole", SHOW))
    at = said.index("Kerf")
    assert said[at : at + 4] == ["Kerf", "9 mm", "set by Quay 2026: measured", "the programme"]
    at = said.index("Overfill")
    # outside the house, "our default" would be read as the utility's
    assert said[at : at + 4] == ["Overfill", "20.0%", "tool default", "tool default"]
    assert "25 kg" not in said


def test_the_weight_of_the_core_has_its_numbers_and_the_source_of_its_density():
    """A disc of 450 - 18 = 432 mm: π/4 x 186,624 mm² x 200 mm = 29,314,829 mm³; 29.3148 L x 2.35 kg/L = 68.8898 kg."""
    with_density = pd.concat(
        [materials(), table("materials", {"name": "core_density.asphalt", "value": 2.35, "unit": "kg/L",
                                          "source": "our default: compacted", "origin": "shipped"})]
    )  # fmt: skip
    said = texts(volumes_section(core(core_kg=68.8898475), with_density, "hole", SHOW))
    (weight,) = (text for text in said if text.startswith("Weight of the core"))
    assert weight == (
        "Weight of the core, about: π ÷ 4 × (450 mm − 2 × 9 mm)² × 200 mm ÷ 1,000,000 mm³ per L = 29.3148 L; "
        "29.3148 L × 2.35 kg/L = 68.8898 kg"
    )
    at = said.index("Density of the core")
    assert said[at : at + 4] == ["Density of the core", "2.35 kg/L", "tool default: compacted", "tool default"]
    without = texts(volumes_section(core(core_kg=68.8898475), materials(), "hole", SHOW))
    assert not [text for text in without if text.startswith("Weight of the core")]


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"is_copy": True, "copy_of": 3}, "None: this row repeats the core of row 3"),
        ({"surface": "unknown", "shade": None}, "Not worked out: the surface is unknown"),
        ({"surface": "gravel", "shade": None}, "None: the surface is not suitable"),
        ({"is_thin": True}, "None: the pavement is too thin"),
        ({"hole_mm": None}, "Not worked out: diameter or depth is missing"),
    ],
)
def test_where_nothing_was_worked_out_the_reason_is_given(changes, why):
    (text,) = texts(volumes_section(core(grout_net_l=None, **changes), materials(), "hole", SHOW))
    assert text.startswith(why)


def test_the_grout_used_is_worked_out_from_bags_and_water():
    """0.6 bags of 22 kg at 2.15 kg/L are 6.1395 L; with 0.1 L more water than stated, 6.2395 L."""
    used = core(bags_used=0.6, water_l=1.3, grout_used_l=0.6 * 22 / 2.15 + 0.1, grout_least_l=4.0, grout_most_l=5.0,
                grout_judged_by="by the stated ranges")  # fmt: skip
    step, judged = texts(grout_used_section(used, materials(), SHOW))
    assert step.endswith("+ (1.3 L water counted − 1.2 L water stated) = 6.2395 L")
    assert _worked_out("0.6 bags × (20 kg + 2 kg) ÷ 2.15 kg/L + (1.3 − 1.2)") == pytest.approx(6.2395, abs=5e-5)
    assert judged == (
        "The void to fill is 4.0000 to 5.0000 L, by the stated ranges. The grout used is 156.0% of the smaller figure."
    )


def test_where_no_water_is_recorded_none_is_named():
    """0.6 bags of 22 kg at 2.15 kg/L are 6.1395 L."""
    used = core(bags_used=0.6, water_l=None, grout_used_l=0.6 * 22 / 2.15, grout_least_l=None)
    (step,) = texts(grout_used_section(used, materials(), SHOW))
    assert step == (
        "Grout used: 0.6 bags × (20 kg + 2 kg) ÷ 2.15 kg/L = 6.1395 L. The register records no water for it, so the "
        "water stated for the bags is used."
    )


def test_without_a_record_of_bags_there_is_no_grout_used():
    assert grout_used_section(core(), materials(), SHOW) is None
