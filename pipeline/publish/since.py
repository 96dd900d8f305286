"""What changed since the latest earlier run that is kept beside a run; worked out once for report, map and pack."""

import json
from pathlib import Path
from typing import NamedTuple

import pandas as pd

from pipeline.history import Changes, Side, caveats, compare
from pipeline.publish.record import as_json, record
from pipeline.readback.compared import comparable_cores, reinstatement_known
from pipeline.readback.runs import Run
from pipeline.results import RunResult

__all__ = ["Since", "changed_cores", "changes_between", "since_last"]


class Since(NamedTuple):
    """What changed from the run ``before`` to ``this``; ``caveats``: what may not come from the road, in sentences."""

    before: Run
    this: Run
    changes: Changes
    caveats: list[str]


def since_last(result: RunResult) -> Since | None:
    """Return what changed since the latest earlier run that is kept; None without one."""
    before = result.earlier.run
    if before is None:
        return None
    written = json.loads(as_json(record(result, [], "", "")))
    this = Run(Path(), written, result.table, result.audit.findings.astype("str"))
    changes = changes_between(before, this)
    return Since(before, this, changes, caveats(before.record, written, changes))


def changes_between(before: Run, after: Run) -> Changes:
    """Return the changes between two runs or packs as they were read."""
    sides = [Side(comparable_cores(run), run.findings, reinstatement_known(run)) for run in (before, after)]
    return compare(*sides)


def changed_cores(changes: Changes) -> pd.DataFrame:
    """Return ``row`` (of the later run) and ``change``, one row per change of a core that the later run has."""
    lines = changes.lines[["row_after", "change"]].dropna().rename(columns={"row_after": "row"})
    return lines.astype({"row": "int64"}).drop_duplicates().reset_index(drop=True)
