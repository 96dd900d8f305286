"""Findings, and changes of cores, in the order in which someone should act on them."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipeline.contracts import SEVERITIES, URGENCIES
from pipeline.publish.acceptance import accepted_until

__all__ = ["changes_in_order", "finding_ranks", "most_urgent_first", "rank_of"]


def rank_of(words: pd.Series, known: tuple[str, ...]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Return the place of each of N words among those known, from 0; a missing or unknown word comes last."""
    places = pd.Index(known).get_indexer(pd.Index(words))
    return np.where(places < 0, len(known), places).astype(np.int64)


def finding_ranks(findings: pd.DataFrame) -> pd.DataFrame:
    """Return what N findings are ordered by: accepted ones last, then by urgency, then by severity."""
    urgency = findings.get("urgency", pd.Series(None, findings.index, dtype="str"))
    return pd.DataFrame(
        {
            "accepted": accepted_until(findings).notna().to_numpy(),
            "urgency": rank_of(urgency, URGENCIES),
            "severity": rank_of(findings["severity"], SEVERITIES),
        },
        index=findings.index,
    )


def most_urgent_first(findings: pd.DataFrame, names: Sequence[str] | None = None) -> pd.DataFrame:
    """Return findings by urgency, then by severity, those that are accepted last; equals keep their order.

    ``names``: the columns to return; None for all.
    """
    ranks = finding_ranks(findings)
    order = np.lexsort([ranks[name].to_numpy() for name in ("severity", "urgency", "accepted")])
    return (findings if names is None else findings[list(names)]).iloc[order]


def changes_in_order(lines: pd.DataFrame, before: pd.DataFrame, after: pd.DataFrame) -> pd.DataFrame:
    """Return the lines of changes by the urgency of their core; equals keep their order.

    Parameters
    ----------
    lines
        N changes with ``row_before`` and ``row_after``, missing where the core is in one run only.
    before, after
        Cores of the two runs with ``row`` and ``urgency``; the later run decides where it has the core. If one lacks
        the urgency, the lines stay as they are.
    """
    if "urgency" not in before or "urgency" not in after:
        return lines
    was, now = (
        lines[name].astype("float64").map(cores.set_index(cores["row"].astype("float64"))["urgency"])
        for name, cores in (("row_before", before), ("row_after", after))
    )
    urgency = now.where(lines["row_after"].notna(), was)
    return lines.iloc[np.argsort(rank_of(urgency, URGENCIES), kind="stable")]
