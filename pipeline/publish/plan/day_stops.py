"""Which crew days get sheets, and the stops of each."""

from collections import defaultdict
from typing import Any

import pandas as pd

from pipeline.publish.plan.table import plan_table
from pipeline.results import RunResult

__all__ = ["Cells", "StopsByDay", "sheet_days", "stops_by_day"]

Cells = dict[str, Any]
StopsByDay = dict[tuple[str, pd.Timestamp], list[Cells]]


def sheet_days(result: RunResult) -> pd.DataFrame:
    """Return the crew days that get sheets: those of the first days of the plan, by day and crew."""
    days = result.plan.days
    if days.empty:
        return days
    last = days["day"].min() + pd.Timedelta(days=result.settings.plan.sheets_days - 1)
    return days[days["day"].le(last)].sort_values(["day", "crew"], kind="stable")


def stops_by_day(result: RunResult) -> StopsByDay:
    """Return the stops of each of these days in order, by crew and day.

    Each is a row of the plan's table, with its minutes, permit, bedding, position in metres, and ``at``, its index.
    """
    stops, days = result.plan.stops, sheet_days(result)
    # the columns of an empty table may be of another kind, which cannot be joined
    if stops.empty or days.empty:
        return {}
    kept = stops.reset_index(names="at").merge(days[["crew", "day"]], on=["crew", "day"], validate="many_to_one")
    table = plan_table(result, stops.loc[kept["at"]])
    cores = result.cores.loc[table.index, ["permit_no", "permit_expires_on", "x_m", "y_m", "bedding"]]
    table = table.join(cores).join(stops[["arrival_min", "leave_min"]])
    table["at"] = table.index
    rows: StopsByDay = defaultdict(list)
    for row in _records(table):
        rows[row["crew"], row["day"]].append(row)
    return dict(rows)


def _records(table: pd.DataFrame) -> list[Cells]:
    """Return the rows of a table; the library goes through columns of texts cell by cell."""
    names = [str(name) for name in table]
    return [
        dict(zip(names, cells, strict=True)) for cells in zip(*(table[name].tolist() for name in names), strict=True)
    ]
