"""Rules on rows and ids: the same core twice, two cores with one id, rows that do not fit the header."""

import pandas as pd

from pipeline.audit.findings import Findings, find
from pipeline.audit.registry import rule


@rule("id-missing", shows=["core_id"])
def id_missing(cores: pd.DataFrame) -> Findings:
    """The row has no core id."""
    return find(
        cores[cores["core_id"].isna()],
        "The row has no core id.",
        "Give the core an id, so that people can refer to it.",
    )


@rule("id-duplicated", needs=["core_id"], shows=["same_row"])
def id_duplicated(cores: pd.DataFrame) -> Findings:
    """Different rows share an id."""
    # regardless of case and spaces
    plain = cores["core_id"].str.casefold().str.replace(r"\s+", "", regex=True)
    rows = cores["same_row"].groupby(plain).transform("nunique")
    return find(
        cores.assign(times=rows)[rows > 1],
        'Id "{core_id}" is used on {times} different rows.',
        "Find out which core is which, and give each an id of its own.",
    )


@rule("row-duplicated", shows=["same_row"])
def row_duplicated(cores: pd.DataFrame) -> Findings:
    """The same row appears more than once."""
    times = cores["same_row"].groupby(cores["same_row"]).transform("size")
    return find(
        cores.assign(times=times)[times > 1],
        "The same row appears {times} times; its materials are counted once.",
        "Delete the copies, or record what sets the cores apart.",
    )


@rule("row-ragged", shows=["ragged"])
def row_ragged(cores: pd.DataFrame) -> Findings:
    """The row has more or fewer fields than the header."""
    return find(
        cores[cores["ragged"].notna()],
        "The row has {ragged:term}, so cells may be in the wrong columns.",
        "Correct the row in the register.",
    )
