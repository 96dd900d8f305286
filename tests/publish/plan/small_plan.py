"""A plan of the small town: three open cores along one street, for tests that need a whole run."""

import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

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
    return replace(result, cores=cores, plan=result.plan._replace(stops=stops, days=days))
