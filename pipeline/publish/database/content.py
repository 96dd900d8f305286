"""The rows of a run, by the tables of a database: what the files of the run's folder hold, with a key and positions."""

from collections.abc import Iterator
from functools import partial
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import pyarrow as pa

from pipeline.contracts import CORE_COLUMNS
from pipeline.intake.crs import name_of
from pipeline.publish.database.rows import Columns, json_objects, points, storable
from pipeline.publish.database.tables import OWN_COLUMNS, ROWS_OF_A_RUN
from pipeline.publish.item_units import in_units
from pipeline.publish.plan.table import plan_table
from pipeline.publish.tables import rounded
from pipeline.results import RunResult
from pipeline.version import __version__

__all__ = ["Rows", "run_row", "tables_of"]


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


class Rows(NamedTuple):
    """The rows of a run in one table: its name, their number, and what gives the columns of a part of them."""

    table: str
    number: int
    columns: Columns


def tables_of(result: RunResult, run: int) -> Iterator[Rows]:
    """Yield the rows of a run by table, in an order in which each refers to rows that are there."""
    for name, table in _frames(result):
        yield Rows(name, len(table), partial(_columns, name, table, run))


def _frames(result: RunResult) -> Iterator[tuple[str, pd.DataFrame]]:
    yield "cores", result.table
    yield "findings", result.audit.findings
    yield "orders", rounded(in_units(result.orders.lines, result.settings.orders.units))
    yield "plan", plan_table(result)


def _columns(name: str, table: pd.DataFrame, run: int, rows: slice) -> dict[str, pd.Series | pa.Array]:
    part = table.iloc[rows]
    # a core is known by its row of the register, what else there is by its place
    numbers = part["row"].to_numpy("int64") if name == "cores" else np.arange(rows.start, rows.start + len(part)) + 1
    columns: dict[str, pd.Series | pa.Array] = {
        "id": pa.array(run * ROWS_OF_A_RUN + numbers),
        "run": pa.array(np.full(len(part), run)),
    }
    own = [column for column in part if column not in CORE_COLUMNS] if name == "cores" else []
    columns |= {str(column): part[column] for column in part if column not in own}
    if name == "cores":
        columns[OWN_COLUMNS] = json_objects({str(column): part[column] for column in own}, len(part))
    if name in {"cores", "plan"}:
        columns["geom"] = points(part["lon"], part["lat"])
    return columns
