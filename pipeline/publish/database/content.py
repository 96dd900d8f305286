"""The rows of a run, by the tables of a database: what the files of the run's folder hold, with a key and positions."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa

from pipeline.contracts import CORE_COLUMNS
from pipeline.intake.crs import name_of
from pipeline.publish.database.rows import json_objects, points, storable
from pipeline.publish.database.tables import OWN_COLUMNS, ROWS_OF_A_RUN
from pipeline.publish.item_units import in_units
from pipeline.publish.plan.table import plan_table
from pipeline.publish.tables import rounded
from pipeline.results import RunResult
from pipeline.version import __version__

__all__ = ["run_row", "tables_of"]


def run_row(result: RunResult, identity: str) -> dict[str, Any]:
    """Return the row of a run among the runs, without its number and its record."""
    account = result.account
    return {
        "programme": storable(result.settings.programme.name),
        "as_of": result.as_of,
        "version": __version__,
        "identity": identity,
        "crs": name_of(result.inputs.crs),
        **{name: account[name] for name in ("cores", "flagged", "pending", "reinstated")},
    }


def tables_of(result: RunResult, run: int) -> Iterator[tuple[str, dict[str, pd.Series | pa.Array]]]:
    """Yield each table of a run with its columns, in an order in which each refers to rows that are there."""
    table = result.table
    own = {str(name): table[name] for name in table if name not in CORE_COLUMNS}
    yield (
        "cores",
        {
            **_keyed(table[list(CORE_COLUMNS)], run, table["row"].to_numpy()),
            OWN_COLUMNS: json_objects(own, len(table)),
            "geom": points(table["lon"], table["lat"]),
        },
    )
    yield "findings", _keyed(result.audit.findings, run)
    yield "orders", _keyed(rounded(in_units(result.orders.lines, result.settings.orders.units)), run)
    plan = plan_table(result)
    yield "plan", {**_keyed(plan, run), "geom": points(plan["lon"], plan["lat"])}


def _keyed(table: pd.DataFrame, run: int, rows: Any = None) -> dict[str, pd.Series | pa.Array]:  # noqa: ANN401 - any array of numbers
    """Return the columns of a table behind its key and its run; ``rows``: numbers of its rows, from 1 if not given."""
    numbers = np.arange(1, len(table) + 1) if rows is None else rows
    keys = pd.Series(np.asarray(numbers, dtype="int64") + run * ROWS_OF_A_RUN, table.index)
    return {"id": keys, "run": pd.Series(run, table.index, dtype="int64")} | {str(name): table[name] for name in table}
