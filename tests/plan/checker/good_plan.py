"""A plan of one day, worked by hand, that every check of the checker passes.

Crew A starts at 07:00 (420). Cores 1 and 2 share a mix of one bag: fitted from 430 and 452, walk back, mixed until 477,
poured 477 to 479, pressed until 480, two minutes on foot, poured 482, pressed 485, cleaned until 497, open to traffic 30
minutes after the press. Core 3 has two bags of another shade, core 4 is surveyed; the break and the way home end at 640.
"""

import pandas as pd

from pipeline.plan.checker import Given, Tables

MONDAY = pd.Timestamp("2026-10-05")
_DAYS = pd.DatetimeIndex(["2026-10-05", "2026-10-06", "2026-10-10"]).as_unit("us")
_MINUTES = {
    "set_up_min": 12.0, "dry_fit_min": 8.0, "mix_min": 3.0, "pour_min": 2.0, "press_min": 1.0, "clean_min": 6.0,
    "survey_min": 15.0, "make_safe_min": 20.0,
}  # fmt: skip
_STOPS = pd.DataFrame(
    {
        "stop": [1, 2, 3, 4],
        "core_id": ["c1", "c2", "c3", "c4"],
        "task": ["reinstate", "reinstate", "reinstate", "survey"],
        "arrival_min": [430.0, 452.0, 520.0, 585.0],
        "pour_min": [477.0, 482.0, 546.0, None],
        "traffic_min": [510.0, 515.0, 579.0, None],
        "leave_min": [480.0, 515.0, 579.0, 600.0],
        "travel_min": [10.0, 2.0, 5.0, 6.0],
        "shade": ["grey", "grey", "pale", None],
        "mix": pd.array([1, 1, 2, None], dtype="Int64"),
        "net_bags": [0.6, 0.4, 1.2, None],
        "bags": [1.0, 0.0, 2.0, 0.0],
    },
    index=[11, 12, 13, 14],
).assign(crew="A", day=MONDAY)


def good_plan():
    """Return the tables of the plan, and what it had to keep to."""
    jobs = pd.DataFrame(
        {
            "core_id": ["c1", "c2", "c3", "c4", "c5"],
            "task": ["reinstate", "reinstate", "reinstate", "survey", "make safe"],
            "district": ["North"] * 5,
            "surface": ["asphalt", "asphalt", "concrete", "unknown", "asphalt"],
            "shade": ["grey", "grey", "pale", None, None],
            "net_bags": [0.6, 0.4, 1.2, None, None],
            "gravel_kg": [5.0, 5.0, 4.0, None, None],
        },
        index=[11, 12, 13, 14, 15],
    ).assign(**_MINUTES)
    mixes = pd.DataFrame(
        {
            "mix": [1, 2], "crew": "A", "day": MONDAY, "shade": ["grey", "pale"], "cores": [2, 1],
            "net_bags": [1.0, 1.2], "alone": [2.0, 2.0], "bags": [1.0, 2.0], "span_min": [8.0, 3.0],
        }
    )  # fmt: skip
    days = pd.DataFrame(
        {
            "crew": ["A"], "day": MONDAY, "stops": 4, "start_min": 420.0, "end_min": 640.0, "work_min": 159.0,
            "travel_min": 31.0, "break_min": 30.0, "bags": 3.0, "load_kg": 98.0, "carries_kg": 1000.0,
        }
    )  # fmt: skip
    crews = pd.DataFrame(
        {
            "crew": ["A", "B"], "districts": ["North; South", "South"], "shift_start_min": 420.0,
            "shift_end_min": 930.0, "break_min": 30.0, "surfaces": ["", "asphalt"], "carries_kg": 1000.0,
        }
    )  # fmt: skip
    given = Given(
        jobs,
        allowed=pd.DataFrame(True, jobs.index, _DAYS),
        works=pd.DataFrame([[True, True, False], [True, True, False]], ["A", "B"], _DAYS),
        working_min=10.0,
        smallest=1.0,
        bag_kg=28.0,
        pour_hours=pd.DataFrame({"first_min": 450.0, "last_min": 900.0}, _DAYS),
    )
    return Tables(_STOPS.copy(), mixes, days, crews), given
