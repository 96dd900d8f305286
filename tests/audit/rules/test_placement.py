"""Rules on how a core was reinstated; all apply to reinstated cores only."""

import pytest

from tests.audit.frames import REINSTATED, reinstated
from tests.audit.rules.cases import Case, sentence

CASES = {
    "grout-short": Case(
        breach=reinstated(grout_used_l=3.9, grout_least_l=4.0, grout_judged_by="stated range"),
        says="3.9 L of grout was used, but filling the kerf, pilot hole and bed takes at least 4.0 L (stated range). Agree the remedy with the road authority. If the core is to be regrouted, lift it by machine.",
        passes=reinstated(grout_used_l=6.0, grout_least_l=4.0),
        on_limit=reinstated(grout_used_l=4.0, grout_least_l=4.0),
        missing=reinstated(grout_used_l=None, grout_least_l=4.0),
        cannot_tell=reinstated(grout_used_l=3.9, grout_used_low_l=3.4, grout_used_high_l=4.4, grout_least_l=4.0),
    ),
    "grout-long": Case(
        breach=reinstated(grout_used_l=12.1, grout_most_l=6.0, grout_judged_by="stated range"),
        says="12.1 L of grout was used, but the kerf, pilot hole and bed hold at most 6.0 L (stated range; limit 12.0 L). Look for a cavity or undermining beside the core.",
        passes=reinstated(grout_used_l=6.0, grout_most_l=6.0),
        on_limit=reinstated(grout_used_l=12.0, grout_most_l=6.0),
        missing=reinstated(grout_used_l=12.1, grout_most_l=None),
        cannot_tell=reinstated(grout_used_l=12.1, grout_used_low_l=11.6, grout_used_high_l=12.6, grout_most_l=6.0),
    ),
    # 0.10 L/kg, give or take 5 % of that
    "water-ratio-off": Case(
        breach=reinstated(water_ratio=0.106, water_l=2.12, bags_used=1.0),
        says="Too much water: 2.1 L for 1 bag is 0.106 L/kg (limit 0.105 L/kg); this weakens the grout. Check the record; if it is right, check the core for hollow spots.",
        passes=reinstated(water_ratio=0.1),
        on_limit=reinstated(water_ratio=0.105),
        missing=reinstated(water_ratio=None),
        cannot_tell=reinstated(water_ratio=0.106, water_ratio_low=0.104, water_ratio_high=0.108),
    ),
    # 40 to 90 degF
    "air-temperature-outside": Case(
        breach=reinstated(air_temperature_c=4.4),
        says="Grout was poured at 4.40 °C (minimum 4.44 °C). Ask whether the materials were warmed, and check the core for hollow spots.",
        passes=reinstated(air_temperature_c=20.0),
        on_limit=reinstated(air_temperature_c=32.2222222222),
        missing=reinstated(air_temperature_c=None),
        cannot_tell=reinstated(air_temperature_c=4.0, air_temperature_step_c=1.0),
    ),
    "bedding-off": Case(
        breach=reinstated(bedding_mm=14.9, bedding_specified_mm=25.0),
        says="The bed is 14.9 mm thick, 10.1 mm less than the 25 mm specified (tolerance 10 mm). Watch the core for settlement.",
        passes=reinstated(bedding_mm=25.0, bedding_specified_mm=25.0),
        on_limit=reinstated(bedding_mm=35.0, bedding_specified_mm=25.0),
        missing=reinstated(bedding_mm=None, bedding_specified_mm=25.0),
        cannot_tell=reinstated(bedding_mm=35.0, bedding_step_mm=1.0, bedding_specified_mm=25.0),
    ),
    "flush-out-of-tolerance": Case(
        breach=reinstated(flush_mm=-5.1),
        says="The core is 5.1 mm below the road (limit 5 mm): a trip hazard and a jolt to traffic. Agree the remedy with the road authority. If the core is to be reset, lift it by machine.",
        passes=reinstated(flush_mm=0.0),
        on_limit=reinstated(flush_mm=5.0),
        missing={"flush_mm": None, **REINSTATED},
        cannot_tell=reinstated(flush_mm=-5.0, flush_step_mm=1.0),
    ),
    # 457.2 mm is in the band up to 500 mm: 12 mm
    "surface-depression": Case(
        breach=reinstated(depression_mm=12.1),
        says="The surface has sunk 12.1 mm (limit 12 mm for a width of 457 mm). Agree the remedy with the road authority. If the core is to be reset, lift it by machine.",
        passes=reinstated(depression_mm=3.0),
        on_limit=reinstated(depression_mm=12.0),
        missing=reinstated(depression_mm=None),
        cannot_tell=reinstated(depression_mm=12.0, depression_step_mm=1.0),
    ),
    "depression-with-step": Case(
        breach=reinstated(depression_mm=10.1, flush_mm=3.1),
        says="The surface has sunk 10.1 mm and has a step of 3.1 mm at its edge (limits where both occur: 10 mm and 3 mm). Ask the road authority whether it counts the two defects together.",
        passes=reinstated(depression_mm=10.1, flush_mm=3.0),
        on_limit=reinstated(depression_mm=10.0, flush_mm=4.0),
        missing=reinstated(depression_mm=10.1, flush_mm=None),
        cannot_tell=reinstated(depression_mm=10.0, depression_step_mm=1.0, flush_mm=4.0, flush_step_mm=1.0),
    ),
}


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        (
            {"water_ratio": 0.2, "water_l": 4.0, "bags_used": 1.0},
            "Too much water: 4.0 L for 1 bag is 0.200 L/kg (limit 0.105 L/kg); this weakens the grout.",
        ),
        (
            {"water_ratio": 0.08, "water_l": 3.2, "bags_used": 2.0},
            "Too little water: 3.2 L for 2 bags is 0.080 L/kg (minimum 0.095 L/kg); the grout is too stiff",
        ),
        (
            {"water_ratio": 0.09, "water_l": 0.9, "bags_used": 0.5},
            "Too little water: 0.9 L for 0.5 bags is 0.090 L/kg (minimum 0.095 L/kg); the grout is too stiff",
        ),
        (
            {"water_ratio": 0.1052, "water_l": 2.104, "bags_used": 1.0},
            "Too much water: 2.1 L for 1 bag is 0.1052 L/kg (limit 0.1050 L/kg); this weakens the grout.",
        ),
    ],
)
def test_water_is_compared_with_the_end_of_the_range_that_it_is_beyond(cells, said):
    assert sentence("water-ratio-off", reinstated(**cells)).startswith(said)


@pytest.mark.parametrize(
    ("air_c", "said"),
    [
        (2.0, "Grout was poured at 2 °C (minimum 4 °C). Ask whether the materials were warmed,"),
        (35.0, "Grout was poured at 35 °C (maximum 32 °C). Ask whether the materials were cooled,"),
        (32.3, "Grout was poured at 32.3 °C (maximum 32.2 °C). Ask whether the materials were cooled,"),
        (-5.0, "Grout was poured at -5 °C (minimum 4 °C). Ask whether the materials were warmed,"),
    ],
)
def test_cold_and_heat_have_their_own_limit_and_remedy(air_c, said):
    """40 degF is 4.44 degC, 90 degF is 32.22 degC."""
    assert sentence("air-temperature-outside", reinstated(air_temperature_c=air_c)).startswith(said)


@pytest.mark.parametrize(
    ("bed_mm", "said"),
    [
        (10.0, "The bed is 10 mm thick, 15 mm less than the 25 mm specified (tolerance 10 mm)."),
        (40.0, "The bed is 40 mm thick, 15 mm more than the 25 mm specified (tolerance 10 mm)."),
        (35.04, "The bed is 35.04 mm thick, 10.04 mm more than the 25 mm specified (tolerance 10 mm)."),
    ],
)
def test_a_bed_is_too_thin_or_too_thick(bed_mm, said):
    assert sentence("bedding-off", reinstated(bedding_mm=bed_mm, bedding_specified_mm=25.0)).startswith(said)


@pytest.mark.parametrize(
    ("step_mm", "said"),
    [
        (8.0, "The core is 8 mm proud of the road (limit 5 mm)"),
        (-8.0, "The core is 8 mm below the road (limit 5 mm)"),
        (5.004, "The core is 5.004 mm proud of the road (limit 5 mm)"),
    ],
)
def test_a_core_is_proud_or_low(step_mm, said):
    assert sentence("flush-out-of-tolerance", reinstated(flush_mm=step_mm)).startswith(said)


@pytest.mark.parametrize(
    ("hole_mm", "limit_mm"),
    [(400.0, 12), (500.0, 12), (500.1, 17), (700.0, 17), (700.1, 25), (2000.0, 25)],
)
def test_the_depression_allowed_depends_on_the_width(hole_mm, limit_mm):
    """Our defaults, a fortieth of the width, cut down: 500 / 40 = 12.5, 700 / 40 = 17.5. A width at an end belongs to it."""
    cells = {"hole_mm": hole_mm, "depression_mm": float(limit_mm)}
    assert sentence("surface-depression", reinstated(**cells)) is None
    said = sentence("surface-depression", reinstated(**{**cells, "depression_mm": limit_mm + 1.0}))
    assert said.startswith(f"The surface has sunk {limit_mm + 1} mm (limit {limit_mm} mm for a width of ")


def test_a_low_step_counts_with_a_depression_as_a_proud_one_does():
    cells = {"depression_mm": 11.0, "hole_mm": 457.2}
    low, proud = (sentence("depression-with-step", reinstated(flush_mm=step, **cells)) for step in (-3.5, 3.5))
    assert low == proud
    assert "has sunk 11 mm and has a step of 3.5 mm at its edge (limits where both occur: 10 mm and 3 mm)" in low


def test_grout_is_compared_with_what_the_void_can_hold_and_says_by_which_figures():
    cells = {"grout_judged_by": "by this programme's own records"}
    short = sentence("grout-short", reinstated(grout_used_l=3.96, grout_least_l=4.0, **cells))
    assert short.startswith(
        "3.96 L of grout was used, but filling the kerf, pilot hole and bed takes at least 4.00 L (by"
    )
    long = sentence("grout-long", reinstated(grout_used_l=26.0, grout_most_l=5.0, **cells))
    assert "hold at most 5.0 L (by this programme's own records; limit 10.0 L)." in long


def test_an_empty_core_is_short_of_grout():
    assert sentence("grout-short", reinstated(grout_used_l=0.0, grout_least_l=4.0)).startswith("0.0 L of grout")
