"""The trend over the runs of a programme, from their records alone."""

from collections.abc import Iterable, Mapping
from typing import Any, Final

import pandas as pd

from pipeline.contracts import SEVERITIES, STATUSES

__all__ = ["TREND_COLUMNS", "trend"]

TREND_COLUMNS: Final = ("as_of", "cores", *STATUSES, "unplaced", *SEVERITIES, "bags_needed")


def trend(records: Iterable[Mapping[str, Any]]) -> pd.DataFrame:
    """Return one row per run, by audit date.

    Parameters
    ----------
    records
        The contents of each run's ``run.json``.

    Returns
    -------
    pandas.DataFrame
        TREND_COLUMNS: ``as_of`` as ISO text; the number of cores (of rows, in records of versions that counted copies),
        by status and without a position; the number of findings by severity; bags of grout that open cores need
        (missing in records without it).
    """
    rows = [
        {
            "as_of": record["as_of"],
            "cores": record["account"].get("cores", record["account"]["rows_read"]),
            **{name: record["account"][name] for name in (*STATUSES, "unplaced")},
            **{name: record["findings_by_severity"][name] for name in SEVERITIES},
            "bags_needed": record.get("orders", {}).get("bags_needed"),
        }
        for record in records
    ]
    kinds = dict.fromkeys(TREND_COLUMNS[1:-1], "int64") | {"as_of": "str", "bags_needed": "float64"}
    table = pd.DataFrame(rows, columns=list(TREND_COLUMNS)).astype(kinds)
    return table.sort_values("as_of", kind="stable", ignore_index=True)
