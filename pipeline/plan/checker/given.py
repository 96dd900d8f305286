"""What a plan is checked against, and how a fault is written down."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

__all__ = ["BOTH", "CLOSE", "Given", "Tables", "faults", "looked_up"]

# what a crew's day is known by
BOTH: Final = ["crew", "day"]
# minutes, kilograms and bags that rounding alone accounts for
CLOSE: Final = 1e-6


class Tables(NamedTuple):
    """The tables of a plan that are checked, as PLAN_TABLES describes them."""

    stops: pd.DataFrame
    mixes: pd.DataFrame
    days: pd.DataFrame
    crews: pd.DataFrame


class Given(NamedTuple):
    """What the plan had to keep to.

    ``jobs``: the cores to visit, on the index of the cores: ``core_id``, ``task``, ``district``, ``surface``,
    ``shade``, ``net_bags``, ``gravel_kg``, and the minutes ``set_up_min``, ``dry_fit_min``, ``mix_min`` (per bag),
    ``pour_min``, ``press_min``, ``clean_min``, ``survey_min`` and ``make_safe_min``. ``allowed``: one row per job and
    one column per day. ``works``: one row per crew and one column per day. ``working_min``: the working time of a mix.
    ``smallest``: the smallest share of a bag that is mixed. ``bag_kg``: a bag with its water. ``pour_hours``: one row
    per day on which grout may be poured, with ``first_min`` and ``last_min``, between which a pour begins.
    """

    jobs: pd.DataFrame
    allowed: pd.DataFrame
    works: pd.DataFrame
    working_min: float
    smallest: float
    bag_kg: float
    pour_hours: pd.DataFrame


def faults(rows: pd.DataFrame, text: str, **values: pd.Series) -> pd.DataFrame:
    """Return one fault per row; ``text`` has a field for each of the values."""
    shown = {name: value.loc[rows.index].tolist() for name, value in values.items()}
    fault = [text.format(**{name: column[at] for name, column in shown.items()}) for at in range(len(rows))]
    core = rows["core_id"].to_numpy() if "core_id" in rows else ""
    return pd.DataFrame({"crew": rows["crew"], "day": rows["day"], "core_id": core, "fault": fault}, rows.index)


def looked_up(table: pd.DataFrame, rows: pd.Series | pd.Index, columns: pd.Series) -> npt.NDArray[np.bool_]:
    """Return the values of a table of yes and no at the rows and columns named; no where it lacks them."""
    row, column = table.index.get_indexer(pd.Index(rows)), table.columns.get_indexer(pd.Index(columns))
    known = (row >= 0) & (column >= 0)
    found = np.zeros(len(row), dtype=bool)
    found[known] = table.to_numpy(bool)[row[known], column[known]]
    return found
