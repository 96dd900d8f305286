"""How many cores are open, a hazard or overdue."""

import pandas as pd

from pipeline.contracts import OPEN_STATES

__all__ = ["count_worst"]


def count_worst(cores: pd.DataFrame, by: pd.Series) -> pd.DataFrame:
    """Return how many of N cores are open, a hazard or overdue, by what ``by`` has for each; none where it is missing.

    Parameters
    ----------
    cores
        ``state`` and ``urgency``; what a table of cores that was handed over lacks of them is not counted.
    by
        On the same index.
    """
    counts = {}
    if "state" in cores:
        counts["cores_open"] = cores["state"].isin(OPEN_STATES).groupby(by).sum()
    if "urgency" in cores:
        counts["cores_hazard"] = cores["urgency"].eq("hazard").groupby(by).sum()
        counts["cores_overdue"] = cores["urgency"].eq("overdue").groupby(by).sum()
    return pd.DataFrame(counts)
