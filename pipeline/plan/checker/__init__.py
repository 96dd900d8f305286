"""A second look at a finished plan: what it promises, worked out again from its tables and from what it had to keep to.

It shares no code with the planner.
"""

from collections.abc import Callable
from typing import Final

import pandas as pd

from pipeline.contracts import PLAN_TABLES, names_of
from pipeline.plan.checker import days, mixes, stops
from pipeline.plan.checker.given import BOTH, Given, Tables

__all__ = ["CHECKS", "Given", "Tables", "faults_of"]

CHECKS: Final[dict[str, Callable[[Tables, Given], pd.DataFrame]]] = {
    "each core once": stops.once,
    "only what is needed": stops.needed,
    "numbers of the stops": stops.numbers,
    "working days": stops.working_days,
    "days on which work may be done": stops.windows,
    "districts of the crew": stops.districts,
    "surfaces of the crew": stops.surfaces,
    "times of the stops": stops.times,
    "shift": days.shifts,
    "load": days.loads,
    "one shade per mix": mixes.shades,
    "cores of a mix follow each other": mixes.consecutive,
    "working time of a mix": mixes.spans,
    "steps of a mix": mixes.steps,
    "bags of a mix": mixes.bags_of_mixes,
    "bags of the stops": mixes.bags_of_stops,
    "temperature of a pour": mixes.pours,
}


def faults_of(tables: Tables, given: Given) -> pd.DataFrame:
    """Return the faults of a plan, PLAN_TABLES' ``faults``: none where every check holds."""
    # what the job itself says has a name of its own beside what the plan says
    asked = given.jobs[~given.jobs.index.duplicated()].add_prefix("job_")
    planned = tables.stops.sort_values([*BOTH, "stop"], kind="stable")
    planned = planned.join(asked.reindex(planned.index.unique()), how="left")
    found = [check(tables._replace(stops=planned), given).assign(check=name) for name, check in CHECKS.items()]
    columns = list(names_of(PLAN_TABLES["faults"]))
    kinds = dict.fromkeys(columns, "str") | {"day": "datetime64[us]"}
    return pd.concat(found)[columns].reset_index(drop=True).astype(kinds)
