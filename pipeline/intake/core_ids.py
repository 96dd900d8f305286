"""Cores found by the id, and the register, that a table names them by."""

import numpy as np
import pandas as pd

from pipeline.contracts import plain_ids
from pipeline.programme.names import folded

__all__ = ["pairs_by_id"]


def pairs_by_id(named: pd.DataFrame, cores: pd.DataFrame) -> pd.DataFrame:
    """Return which rows of a table name which cores.

    Ids are equal whatever their case and spaces; where one of several cores has the id as it is written, that one is
    meant. A row that names a register means only cores of it.

    Parameters
    ----------
    named
        N rows with ``core_id`` and ``register``, texts or missing.
    cores
        M rows with ``core_id`` and ``register``.

    Returns
    -------
    pandas.DataFrame
        A row per pair: ``named`` (0 to N - 1) and ``at`` (0 to M - 1), in the order of both.
    """
    left, right = _keys(named, "named"), _keys(cores, "at")
    pairs = left.dropna(subset="id").merge(right.dropna(subset="id"), on="id", suffixes=("", "_core"))
    pairs = pairs[pairs["register"].isna() | pairs["register"].eq(pairs["register_core"])]
    is_exact = pairs["written"].eq(pairs["written_core"])
    pairs = pairs[is_exact | ~is_exact.groupby(pairs["named"]).transform("any")]
    return pairs.sort_values(["named", "at"])[["named", "at"]].reset_index(drop=True)


def _keys(table: pd.DataFrame, number: str) -> pd.DataFrame:
    written = table["core_id"].astype("str")
    return pd.DataFrame(
        {
            number: np.arange(len(table)),
            "id": plain_ids(written).to_numpy(),
            "written": written.to_numpy(),
            "register": table["register"].astype("str").map(folded, na_action="ignore").to_numpy(),
        }
    )
