"""The objective of the plan, in minutes of a crew's work: the same for the search, the report and every comparison.

minutes = weighted lateness + travel between stops + crew days x DAY_MIN + bags to mix x BAG_MIN + cores left out x
LEFT_OUT_MIN. Weighted lateness: for each core, the days after its due day times its weight. A core that is not planned
within the horizon is late until a week after the horizon.
"""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.plan.travel import Floats

__all__ = ["BAG_MIN", "DAY_MIN", "LEFT_OUT_MIN", "PUT_OFF_DAYS", "left_out_minutes", "objective_of"]

# our defaults, in minutes of a crew's work: a bag, sending a crew out on a day, and a core that is not planned
BAG_MIN: Final = 30.0
DAY_MIN: Final = 60.0
LEFT_OUT_MIN: Final = 300.0
# a core that is put off counts as done so many days after the days that are planned together
PUT_OFF_DAYS: Final = 7


def left_out_minutes(late: Floats, weight: Floats) -> Floats:
    """Return what it costs to leave each of N jobs out of the plan: its lateness a week after the horizon, and more.

    ``late``: N by D, minutes that lateness costs on each day of the horizon; ``weight``: minutes per day late.
    """
    last = late[:, -1]
    after: Floats = LEFT_OUT_MIN + last + np.where(last > 0, PUT_OFF_DAYS * weight, 0.0)
    return after


def objective_of(
    jobs: pd.DataFrame, late: Floats, planned_on: Floats, crew_days: pd.DataFrame, walking_min: float
) -> pd.DataFrame:
    """Return the parts of the objective: ``part``, ``value``, ``unit``, ``weight`` and ``minutes``; the last row adds up.

    Parameters
    ----------
    jobs, late
        N jobs with ``weight``, and N by D minutes that lateness costs on each day.
    planned_on
        N numbers of the day that each job is planned on; NaN where it is not planned.
    crew_days
        ``travel_min`` and ``bags`` of each crew's day.
    walking_min
        Minutes on foot between the cores of a mix, which are not part of ``travel_min``.
    """
    is_planned = np.isfinite(planned_on)
    at = np.flatnonzero(is_planned)
    lateness = float(late[at, planned_on[at].astype(np.int64)].sum())
    left = left_out_minutes(late, jobs["weight"].to_numpy(float))[~is_planned]
    parts = [
        ("weighted lateness", lateness + float((left - LEFT_OUT_MIN).sum()), "crew-minutes", 1.0),
        ("travel", float(crew_days["travel_min"].sum()) + walking_min, "min", 1.0),
        ("crew days", float(len(crew_days)), "days", DAY_MIN),
        ("bags to mix", float(crew_days["bags"].sum()), "bags", BAG_MIN),
        ("cores left out", float(len(left)), "cores", LEFT_OUT_MIN),
    ]
    table = pd.DataFrame(parts, columns=["part", "value", "unit", "weight"])
    table = table.assign(minutes=table["value"] * table["weight"])
    table.loc[len(table)] = ["objective", table["minutes"].sum(), "min", 1.0, table["minutes"].sum()]
    return table
