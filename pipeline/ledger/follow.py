"""Everything that the ledger adds to the findings of a run, in its order."""

import datetime as dt
from collections.abc import Sequence

import pandas as pd

from pipeline.audit import Audit, BoundRule
from pipeline.ledger.baseline import Baseline, with_baseline
from pipeline.ledger.fingerprints import with_fingerprints
from pipeline.ledger.owners import with_owners
from pipeline.programme.owners import Owner

__all__ = ["follow"]


def follow(
    audit: Audit,
    cores: pd.DataFrame,
    rules: Sequence[BoundRule],
    owners: Sequence[Owner],
    as_of: dt.date,
    earlier: pd.DataFrame | None = None,
    earlier_as_of: dt.date | None = None,
) -> Baseline:
    """Return the findings of an audit with the columns of ``contracts.FOLLOWED_COLUMNS``, and those that are gone.

    Parameters
    ----------
    audit
        What was found.
    cores
        The audited cores, with ``row``, ``register``, ``district`` and ``road_authority``.
    rules
        The rules in force.
    owners
        Those of the settings.
    as_of
        Day of the audit.
    earlier, earlier_as_of
        The findings of the latest earlier run, and its day; None without one.
    """
    findings = with_fingerprints(audit.findings, audit.wordings, rules)
    findings = with_owners(findings, cores, owners, rules)
    return with_baseline(findings, as_of, earlier, earlier_as_of)
