"""The columns by which a finding is followed from run to run, and the table of those that are gone."""

from typing import Final

from pipeline.contracts.column import Column

__all__ = ["FOLLOWED_COLUMNS", "gone_table"]

_BASELINES: Final = (
    ("new", "New: not found in the latest earlier run"),
    ("unchanged", "Unchanged: found in the latest earlier run too"),
    ("gone", "Gone: found in the latest earlier run, and not in this one"),
)
_FINGERPRINT, _FIRST_SEEN, _BASELINE = (
    Column(
        "fingerprint",
        "text",
        "",
        "Fingerprint",
        "what the finding is known by from run to run: its rule, core id and other core; missing without an id",
    ),
    Column(
        "first_seen",
        "text",
        "",
        "First seen",
        "date of the run from which on it has been found in every run that is kept",
    ),
    Column(
        "baseline",
        "text",
        "",
        "Baseline",
        "whether the latest earlier run has it; missing without an earlier run",
        values=_BASELINES,
    ),
)
FOLLOWED_COLUMNS: Final = (
    _FINGERPRINT,
    Column(
        "evidence_mark",
        "text",
        "",
        "Mark of the evidence",
        "changes when the evidence does, apart from what moves with the audit date alone",
    ),
    _FIRST_SEEN,
    _BASELINE,
    Column("owner", "text", "", "Owner", "who has to act on it, by the settings; missing where they name nobody"),
)


def gone_table(worded: tuple[Column, ...]) -> tuple[Column, ...]:
    """Return the columns of the findings that are gone: what was found, in words, and since when.

    Of the columns in words the first, ``row``, is always missing: the table can be put below that of the findings.
    """
    last_seen = Column("last_seen", "text", "", "Last seen", "date of the latest earlier run, which has it")
    return (*worded, _FINGERPRINT, _FIRST_SEEN, last_seen, _BASELINE)
