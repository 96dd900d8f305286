"""The outcome of each rule for each core: found, passed, at the limit, not assessed or not applicable."""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.audit.findings import Findings

__all__ = ["AT_LIMIT", "FOUND", "NOT_APPLICABLE", "NOT_ASSESSED", "OUTCOMES", "PASSED", "outcome_of"]

FOUND: Final = 0
PASSED: Final = 1
# the recorded value is too coarse to tell on which side of the limit it lies
AT_LIMIT: Final = 2
# the rule applies, but the core lacks what it needs
NOT_ASSESSED: Final = 3
NOT_APPLICABLE: Final = 4
# by code, the word for it in tables
OUTCOMES: Final = ("found", "passed", "at the limit", "not assessed", "not applicable")


def outcome_of(index: pd.Index, able: pd.Series, applies: pd.Series, findings: Findings) -> pd.Series:
    """Return the outcome of one rule for each of N cores, as a code.

    Parameters
    ----------
    index
        Of the N cores.
    able, applies
        N truths each: the rule could assess the core; the rule applies to the core.
    findings
        What the rule found.
    """
    codes = np.select([~applies, ~able], [NOT_APPLICABLE, NOT_ASSESSED], PASSED).astype("int8")
    codes[index.get_indexer(findings.at_limit)] = AT_LIMIT
    codes[index.get_indexer(findings.templates.index)] = FOUND
    return pd.Series(codes, index)
