"""The columns by which a finding is followed from run to run."""

from typing import Final

from pipeline.contracts.column import Column

__all__ = ["FOLLOWED_COLUMNS"]

FOLLOWED_COLUMNS: Final = (
    Column(
        "fingerprint",
        "text",
        "",
        "Fingerprint",
        "what the finding is known by from run to run: its rule, core id and other core; missing without an id",
    ),
    Column(
        "evidence_mark",
        "text",
        "",
        "Mark of the evidence",
        "changes when the evidence does, apart from what moves with the audit date alone",
    ),
)
