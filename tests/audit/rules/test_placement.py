"""Rules on how a core was reinstated; all apply to reinstated cores only."""

from tests.audit.frames import REINSTATED, reinstated
from tests.audit.rules.cases import Case

CASES = {
    "grout-short": Case(
        breach=reinstated(grout_used_l=3.9, grout_least_l=4.0, grout_judged_by="stated range"),
        says="3.9 L of grout was used, but filling the kerf, pilot hole and bed takes at least 4.0 L (stated range). Lift the core and regrout it.",
        passes=reinstated(grout_used_l=6.0, grout_least_l=4.0),
        on_limit=reinstated(grout_used_l=4.0, grout_least_l=4.0),
        missing=reinstated(grout_used_l=None, grout_least_l=4.0),
    ),
    "grout-long": Case(
        breach=reinstated(grout_used_l=12.1, grout_most_l=6.0, grout_judged_by="stated range"),
        says="12.1 L of grout was used, but the kerf, pilot hole and bed hold at most 6.0 L (stated range; limit 12.0 L). Look for a cavity or undermining beside the core.",
        passes=reinstated(grout_used_l=6.0, grout_most_l=6.0),
        on_limit=reinstated(grout_used_l=12.0, grout_most_l=6.0),
        missing=reinstated(grout_used_l=12.1, grout_most_l=None),
    ),
    # 0.10 L/kg, give or take 5 % of that
    "water-ratio-off": Case(
        breach=reinstated(water_ratio=0.106, water_l=2.12, bags_used=1.0),
        says="Too much water: 2.1 L for 1 bag is 0.106 L/kg (limit 0.105 L/kg); this weakens the grout. Check the record; if it is right, check the core for hollow spots.",
        passes=reinstated(water_ratio=0.1),
        on_limit=reinstated(water_ratio=0.105),
        missing=reinstated(water_ratio=None),
    ),
    # 40 to 90 degF
    "air-temperature-outside": Case(
        breach=reinstated(air_temperature_c=4.4),
        says="Grout was poured at 4.40 °C (minimum 4.44 °C). Ask whether the materials were warmed, and check the core for hollow spots.",
        passes=reinstated(air_temperature_c=20.0),
        on_limit=reinstated(air_temperature_c=32.2222222222),
        missing=reinstated(air_temperature_c=None),
    ),
    "bedding-off": Case(
        breach=reinstated(bedding_mm=14.9, bedding_specified_mm=25.0),
        says="The bed is 14.9 mm thick, 10.1 mm less than the 25 mm specified (tolerance 10 mm). Watch the core for settlement.",
        passes=reinstated(bedding_mm=25.0, bedding_specified_mm=25.0),
        on_limit=reinstated(bedding_mm=35.0, bedding_specified_mm=25.0),
        missing=reinstated(bedding_mm=None, bedding_specified_mm=25.0),
    ),
    "flush-out-of-tolerance": Case(
        breach=reinstated(flush_mm=-5.1),
        says="The core is 5.1 mm below the road (limit 5 mm): a trip hazard and a jolt to traffic. Lift and reset it.",
        passes=reinstated(flush_mm=0.0),
        on_limit=reinstated(flush_mm=5.0),
        missing={"flush_mm": None, **REINSTATED},
    ),
    # 457.2 mm is in the band up to 500 mm: 12 mm
    "surface-depression": Case(
        breach=reinstated(depression_mm=12.1),
        says="The surface has sunk 12.1 mm (limit 12 mm for a width of 457 mm). Lift and reset the core.",
        passes=reinstated(depression_mm=3.0),
        on_limit=reinstated(depression_mm=12.0),
        missing=reinstated(depression_mm=None),
    ),
    "depression-with-step": Case(
        breach=reinstated(depression_mm=10.1, flush_mm=3.1),
        says="The surface has sunk 10.1 mm and has a step of 3.1 mm at its edge (limits where both occur: 10 mm and 3 mm). Ask the road authority whether it counts the two defects together.",
        passes=reinstated(depression_mm=10.1, flush_mm=3.0),
        on_limit=reinstated(depression_mm=10.0, flush_mm=4.0),
        missing=reinstated(depression_mm=10.1, flush_mm=None),
    ),
}
