"""A few jobs along a street, in a row of x: what the tests of mixes and bounds have in common."""

import numpy as np
import pandas as pd

from pipeline.plan.mix_sets import MixRules
from pipeline.plan.slots import Slots
from pipeline.plan.travel import Travel

# 10 minutes to use a mix, 100 m/min on foot, whole bags; a core takes 2 minutes to pour and 1 to press
RULES = MixRules(10.0, 100.0, 1.0)


def few_jobs(net, x, **columns):
    """Return the jobs; ``columns`` replace or add to what they have in common."""
    count = len(net)
    shared = {
        "task": ["reinstate" if need > 0 else "survey" for need in net], "district": "North", "surface": "asphalt",
        "shade": "grey", "net_bags": np.array(net, dtype=float), "gravel_kg": 5.0, "set_up_min": 12.0,
        "dry_fit_min": 8.0, "mix_min": 3.0, "pour_min": 2.0, "press_min": 1.0, "clean_min": 6.0, "survey_min": 15.0,
        "make_safe_min": 20.0, "place": np.arange(count), "x_m": np.array(x, dtype=float), "y_m": 0.0,
    }  # fmt: skip
    return pd.DataFrame({**shared, **columns}, index=pd.RangeIndex(count))


def travel_of(jobs, starts=()):
    """Return straight lines between the jobs, then between the starts."""
    xy = jobs[["x_m", "y_m"]].to_numpy(float)
    return Travel(np.concatenate([xy, np.array(starts, dtype=float).reshape(-1, 2)]), 1.0)


def any_day(count, days=1):
    """Return slots in which one crew may do every job on each of some days."""
    return Slots(np.packbits(np.ones((count, days), dtype=bool), axis=1), 1)
