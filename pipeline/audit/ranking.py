"""The order in which rules and findings are listed: the most urgent first."""

from typing import Final

import pandas as pd

from pipeline.contracts import SEVERITIES, URGENCIES

__all__ = ["by_urgency", "urgency_rank"]

_RANK: Final = {name: rank for rank, name in enumerate(URGENCIES)}
_SEVERITY_RANK: Final = {name: rank for rank, name in enumerate(SEVERITIES)}


def urgency_rank(urgencies: pd.Series) -> pd.Series:
    """Return a number for each of N urgencies, 0 for the most urgent; missing where there is none."""
    return urgencies.map(_RANK)


def by_urgency(rules: pd.DataFrame) -> pd.DataFrame:
    """Return rules by urgency, then severity, then the number of cores found, the most first, then name.

    Parameters
    ----------
    rules
        With ``rule``, ``urgency``, ``severity``, and ``found`` if cores have been counted.
    """
    found = rules["found"] if "found" in rules else pd.Series(0, rules.index)
    keys = pd.DataFrame(
        {
            "urgency": urgency_rank(rules["urgency"]),
            "severity": rules["severity"].map(_SEVERITY_RANK),
            "fewer": -found,
            "rule": rules["rule"],
        }
    )
    return rules.loc[keys.sort_values([*keys.columns], kind="stable").index]
