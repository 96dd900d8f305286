"""What makes a strict audit fail: cores with failures that nobody has accepted, or new ones of these."""

import pandas as pd

from pipeline.ledger.baseline import UNCHANGED

__all__ = ["cores_failing"]


def cores_failing(findings: pd.DataFrame, is_accepted: pd.Series, *, only_new: bool = False) -> int:
    """Return the number of cores with a finding of severity fail that nobody has accepted.

    Parameters
    ----------
    findings
        N findings about cores that are counted: ``row``, ``severity`` and ``baseline``.
    is_accepted
        N truths: whether a decision that holds accepts the finding.
    only_new
        Count only findings that the latest earlier run is not known to have: without an earlier run all of them, and
        always those of cores without an id, which cannot be followed.
    """
    failing = findings["severity"].eq("fail") & ~is_accepted
    if only_new:
        failing &= findings["baseline"].ne(UNCHANGED)
    return int(findings.loc[failing, "row"].nunique())
