"""A plan of the small town: three open cores along one street, for tests that need a whole run."""

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

from pipeline.results import RunResult
from pipeline.run import run_programme
from tests.small_town import write_town

# a name that no file may have, text that a page, a spreadsheet or a calendar could take for more than text
HOSTILE = '=1+1 "<script>alert(1)</script>" \x07 ]]> {{ 7*7 }} BEGIN:VEVENT'


@cache
def small_plan() -> RunResult:
    """Return the run, with nothing written."""
    with tempfile.TemporaryDirectory() as folder:
        return run_programme(write_town(Path(folder)), None)


def planned(result: RunResult, **cells: object) -> RunResult:
    """Return a run with some cells of every core replaced, or of every row of the plan for crew and shade."""
    cores = result.cores.assign(**{name: cell for name, cell in cells.items() if name in result.cores})
    of_plan = {name: cell for name, cell in cells.items() if name in ("crew", "core_id")}
    stops = result.plan.stops.assign(**of_plan)
    days = result.plan.days.assign(**{name: cell for name, cell in of_plan.items() if name == "crew"})
    return with_straight_ways(replace(result, cores=cores, plan=result.plan._replace(stops=stops, days=days)))


class _StraightWays:
    """Ways of crews of any name: straight lines between the cores, and none to the first or from the last."""

    def __init__(self, cores: pd.DataFrame) -> None:
        self._cores = cores

    def of_day(self, _crew: str, cores: pd.Index) -> list[np.ndarray]:
        points = self._cores.loc[cores, ["x_m", "y_m"]].to_numpy(float)
        return [points[:1], *(points[at : at + 2] for at in range(len(points) - 1)), points[-1:]]


def with_straight_ways(result: RunResult) -> RunResult:
    """Return a run whose crews or cores are not those that its ways were found for."""
    return replace(result, plan=result.plan._replace(ways=_StraightWays(result.cores)))
