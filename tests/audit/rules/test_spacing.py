"""Rules on neighbouring cores. Both cores are 457.2 mm wide."""

from tests.audit.rules.cases import Case

CASES = {
    "cores-overlap": Case(
        breach={"x_m": 99.5429},
        says='Overlaps core "A-2": the centres are 457 mm apart. Check on site whether this is one core recorded twice, or two cores that overlap.',
        passes={"x_m": 99.5},
        on_limit={"x_m": 99.5428},
        missing={"x_m": None},
    ),
    "cores-too-close": Case(
        breach={"x_m": 99.2429},
        says='299.9 mm clear of core "A-2" by the recorded positions (minimum 300 mm). Measure on site before reinstating.',
        passes={"x_m": 99.0},
        on_limit={"x_m": 99.2427},
        missing={"x_m": None},
    ),
    # three cores less than 300 mm from each other
    "cores-clustered": Case(
        breach={"x_m": 99.5, "third": 98.9},
        says="One of 3 cores that lie less than 300 mm from the next by the recorded positions; at most 2 may be reinstated. Measure on site, and ask the road authority before reinstating.",
        passes={"x_m": 99.5, "third": 90.0},
        on_limit={"x_m": 99.2428, "third": 98.4856},
        missing={"x_m": None},
    ),
}
