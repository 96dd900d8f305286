"""Rules on rows and ids: the same core twice, two cores under one name, rows that do not fit."""

import pandas as pd

from pipeline.audit.findings import find
from pipeline.audit.registry import Limits, rule


@rule("id-missing", family="identity", shows=["core_id"])
def id_missing(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The row has no id."""
    return find(cores[cores["core_id"].isna()], "The row has no id: give the core one, or nobody can ask for it.")


@rule("id-duplicated", family="identity", needs=["core_id"], shows=["same_row"])
def id_duplicated(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The same id, but for case and spaces, stands on rows that differ."""
    plain = cores["core_id"].str.casefold().str.replace(r"\s+", "", regex=True)
    rows = cores["same_row"].groupby(plain).transform("nunique")
    shared = cores.assign(times=rows)[rows > 1]
    return find(
        shared,
        "The id {core_id} stands on {times} rows that differ: find out which core is which, and number them apart.",
    )


@rule("row-duplicated", family="identity", shows=["same_row"])
def row_duplicated(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The whole row stands more than once."""
    times = cores["same_row"].groupby(cores["same_row"]).transform("size")
    return find(
        cores.assign(times=times)[times > 1],
        "The same row stands {times} times; its need is counted once. "
        "Strike the copies, or say what sets the cores apart.",
    )


@rule("row-ragged", family="identity", shows=["ragged"])
def row_ragged(cores: pd.DataFrame, limits: Limits) -> pd.DataFrame:  # noqa: ARG001
    """The row's fields do not fit the header."""
    return find(
        cores[cores["ragged"].notna()],
        "The row has {ragged}: its cells may stand in the wrong columns. Correct the line.",
    )
