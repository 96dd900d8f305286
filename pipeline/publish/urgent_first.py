"""Findings in the order in which someone should act on them."""

import numpy as np
import pandas as pd

from pipeline.contracts import SEVERITIES, URGENCIES
from pipeline.publish.acceptance import accepted_until

__all__ = ["finding_ranks", "most_urgent_first", "rank_of"]


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


def most_urgent_first(findings: pd.DataFrame) -> pd.DataFrame:
    """Return findings by urgency, then by severity, those that are accepted last; equals keep their order."""
    ranks = finding_ranks(findings)
    order = np.lexsort([ranks[name].to_numpy() for name in ("severity", "urgency", "accepted")])
    return findings.iloc[order]
