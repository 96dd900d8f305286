"""By how many days each finding is over its time, for the rules that have a time."""

from collections.abc import Mapping
from typing import Final

import numpy as np
import pandas as pd

from pipeline.audit.finding_places import by_rule
from pipeline.audit.findings import Wording

__all__ = ["OVERDUE_DAYS", "overdue_days"]

# the value by which a rule gives the days: calendar days, whatever its limit is counted in
OVERDUE_DAYS: Final = "overdue_days"


def overdue_days(findings: pd.DataFrame, wordings: Mapping[str, Wording]) -> pd.Series:
    """Return for each of N findings the days by which a time has passed; missing for a rule without one.

    Parameters
    ----------
    findings
        With ``row`` and ``rule``.
    wordings
        By rule, the templates and values of its findings.
    """
    days = np.full(len(findings), np.nan)
    timed = {slug: wording for slug, wording in wordings.items() if OVERDUE_DAYS in wording.values}
    for slug, here in by_rule(findings["rule"], timed):
        of_row = timed[slug].values[OVERDUE_DAYS]
        at = of_row.index.get_indexer(pd.Index(findings["row"].to_numpy()[here]))
        # a row that the wording does not have has no days
        days[here] = np.append(of_row.to_numpy(dtype=float), np.nan)[at]
    return pd.Series(days, findings.index)
