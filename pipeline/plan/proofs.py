"""What every plan is held against once it is made: the faults that the separate checker finds."""

import pandas as pd

from pipeline.plan.checker import Given, Tables, faults_of
from pipeline.plan.crews import Bools, Days, Team
from pipeline.plan.mixes import MixRules
from pipeline.plan.weather import Curing

__all__ = ["checked"]


def checked(
    tables: Tables,
    jobs: pd.DataFrame,
    allowed: Bools,
    teams: list[Team],
    works: Bools,
    days: Days,
    rules: MixRules,
    bag_kg: float,
    curing: Curing,
) -> pd.DataFrame:
    """Return the faults of a plan.

    Parameters
    ----------
    tables
        The stops, mixes, crew days and crews of the plan.
    jobs, allowed
        The jobs with their minutes, and on which of the days each may be done.
    teams, works, days
        The crews, on which of the days each works, and the days of the horizon.
    rules
        What a mix allows.
    bag_kg
        A bag with its water.
    curing
        When grout may be poured.
    """
    columns = pd.DatetimeIndex(days).as_unit("us")
    return faults_of(
        tables,
        Given(
            jobs,
            pd.DataFrame(allowed, jobs.index, columns),
            pd.DataFrame(works, [team.crew.name for team in teams], columns),
            rules.working_min,
            rules.smallest,
            bag_kg,
            pd.DataFrame({"first_min": curing.first_min, "last_min": curing.last_min}, columns)[curing.pours],
        ),
    )
