"""The objective of the plan, in minutes of a crew's work: the same for the search, the report and every comparison.

minutes = weighted lateness + travel between stops + crew days x DAY_MIN + bags to mix x BAG_MIN + cores left out x
LEFT_OUT_MIN. Weighted lateness: for each core, the days after its due day times its weight; a core that is not planned
counts as late on the last day of the horizon. Walking between the cores of one mix is part of the work there.
"""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.plan.crews import Bools
from pipeline.plan.lateness import Late
from pipeline.plan.travel import Floats

__all__ = ["BAG_MIN", "DAY_MIN", "LEFT_OUT_MIN", "PUT_OFF_DAYS", "objective_of"]

# our defaults, in minutes of a crew's work: a bag, sending a crew out on a day, and a core that is not planned
BAG_MIN: Final = 30.0
DAY_MIN: Final = 60.0
LEFT_OUT_MIN: Final = 300.0
# a core that is put off counts as done so many days after the days that are planned together
PUT_OFF_DAYS: Final = 7
_ROWS: Final = 20_000


def objective_of(late: Late, allowed: Bools, planned_on: Floats, crew_days: pd.DataFrame) -> pd.DataFrame:
    """Return the parts of the objective: ``part``, ``value``, ``unit``, ``weight`` and ``minutes``; the last adds up.

    Parameters
    ----------
    late, allowed
        N by D: minutes that lateness of each job costs on each day, and whether it may be done then.
    planned_on
        N numbers of the day that each job is planned on; NaN where it is not planned.
    crew_days
        The plan's crew days: ``travel_min`` and ``bags``.
    """
    is_planned = np.isfinite(planned_on)
    on = np.where(is_planned, planned_on, late.shape[1] - 1).astype(np.int64)
    # in blocks, since a table of many jobs by many days is large
    blocks = [slice(at, at + _ROWS) for at in range(0, len(late), _ROWS)]
    least = [np.where(allowed[some], late[some], np.inf).min(axis=1, initial=np.inf) for some in blocks]
    possible = np.concatenate([np.empty(0), *least])
    unavoidable = float(np.where(np.isfinite(possible), possible, late[:, -1]).sum())
    parts = [
        ("lateness on the first day possible", unavoidable, "min", 1.0),
        ("further lateness", float(late[np.arange(len(on)), on].sum()) - unavoidable, "min", 1.0),
        ("travel", float(crew_days["travel_min"].sum()), "min", 1.0),
        ("crew days", float(len(crew_days)), "d", DAY_MIN),
        ("bags to mix", float(crew_days["bags"].sum()), "bags", BAG_MIN),
        ("cores left out", float((~is_planned).sum()), "cores", LEFT_OUT_MIN),
    ]
    table = pd.DataFrame(parts, columns=["part", "value", "unit", "weight"])
    table = table.assign(minutes=table["value"] * table["weight"])
    whole = pd.DataFrame(
        [("objective", table["minutes"].sum(), "min", 1.0, table["minutes"].sum())], columns=list(table)
    )
    return pd.concat([table, whole], ignore_index=True)
