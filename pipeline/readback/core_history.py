"""What the runs kept say of one core: its rows, status and findings in each."""

from pathlib import Path
from typing import Final, NamedTuple

import pandas as pd

from pipeline.contracts import plain_ids
from pipeline.readback.cores_table import UNREADABLE, read_cores_table, where_cores_are
from pipeline.readback.kept_runs import find_kept_runs
from pipeline.readback.runs import Run

__all__ = ["CoreHistory", "read_core_history"]

_COLUMNS: Final = ("row", "core_id", "status", "findings")


class CoreHistory(NamedTuple):
    """``runs``: one row per run up to this one and row of the core: ``as_of``, ``row``, ``status``, ``findings``.

    ``later``: the dates of the runs kept after it. ``notices``: which runs were left out, and why.
    """

    runs: pd.DataFrame
    later: list[str]
    notices: list[str]


def read_core_history(run: Run, core_id: str | None, rows: list[int]) -> CoreHistory:
    """Return a core's history in the runs kept beside a run.

    Parameters
    ----------
    run
        The run.
    core_id
        The core's id; capitals and blanks do not count. Without one the core is not followed.
    rows
        The core's rows in this run.
    """
    today = run.as_of.isoformat()
    own = run.cores.loc[run.cores["row"].isin(rows), list(_COLUMNS)].assign(as_of=today)
    kept = find_kept_runs(run.folder.resolve().parent, run.programme)
    found, notices = [], list(kept.notices)
    later = [str(record["as_of"]) for record in kept.records if str(record["as_of"]) > today]
    earlier = [
        (folder, str(record["as_of"]))
        for folder, record in zip(kept.folders, kept.records, strict=True)
        if str(record["as_of"]) < today
    ]
    wanted = plain_ids(pd.Series([core_id], dtype="str")).iloc[0]
    for folder, day in earlier if core_id is not None else []:
        table = _rows_of(where_cores_are(folder), str(wanted))
        if isinstance(table, str):
            notices.append(f"The run of {day} is not in the history: {table}")
        else:
            found.append(table.assign(as_of=day))
    history = pd.concat([*found, own], ignore_index=True)
    return CoreHistory(history[["as_of", "row", "status", "findings"]], later, notices)


def _rows_of(file: Path, wanted: str) -> pd.DataFrame | str:
    """Return the rows of a core in a run's table of cores, or why the table cannot be used."""
    try:
        table = read_cores_table(file, _COLUMNS)
    except UNREADABLE:
        return f"{file.name} cannot be read."
    if lost := [name for name in _COLUMNS if name not in table]:
        return f"{file.name} has no column {lost[0]!r}."
    return table[plain_ids(table["core_id"].astype("str")).eq(wanted)]
