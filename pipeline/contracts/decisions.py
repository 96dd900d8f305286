"""Decisions: the columns of the tables in which people answer findings, and of those that report on them."""

from typing import Final

from pipeline.contracts.column import Column

__all__ = [
    "CORRECTION_TABLE", "DECIDED_COLUMNS", "DECIDED_HANDED", "DECISIONS", "DECISION_REPORT", "DECISION_SHEET",
    "ENTRY_TEXTS", "IN_ORDER", "STANDINGS",
]  # fmt: skip

# accept: known, and left as it is. correct: the register is wrong, and the value is given. dispute: the finding is
# wrong. defer: to be decided later
DECISIONS: Final = ("accept", "correct", "dispute", "defer")
# of a decision about a finding; one that does not hold lets the finding return
STANDINGS: Final = ("holds", "expired", "evidence changed")
# of an entry that nobody has to correct
IN_ORDER: Final = ("holds", "not yet in force")

_WHO: Final = Column("decided_by", "text", "", "Decided by", "who decided")
_WHEN: Final = Column("decided_on", "text", "", "Decided on", "day of the decision")
_DECISION: Final = Column(
    "decision", "text", "", "Decision", "what was decided about the finding",
    values=(
        ("accept", "Accept: known, and left as it is"),
        ("correct", "Correct: the register is wrong, and the right value is given"),
        ("dispute", "Dispute: the finding is wrong"),
        ("defer", "Defer: to be decided later"),
    ),
)  # fmt: skip
# of a finding, in the table of findings
DECIDED_COLUMNS: Final = (
    _DECISION,
    _WHO,
    _WHEN,
    Column("decided_until", "text", "", "Decided until", "last day on which the decision holds"),
    Column("decision_reason", "text", "", "Reason", "why it was decided so"),
    Column(
        "decision_standing", "text", "", "Standing of the decision",
        "holds, expired, or evidence changed: then the finding has returned",
    ),
)  # fmt: skip

# of these, what the road authority is handed: what was decided, when and until when, not by whom and why
DECIDED_HANDED: Final = ("decision", "decided_on", "decided_until", "decision_standing")

# what an entry may hold, besides its dates, by the names of its columns
ENTRY_TEXTS: Final = (
    "fingerprint", "evidence_mark", "rule", "core_id", "street", "district", "register", "decision", "decided_by",
    "reason", "column", "value", "original",
)  # fmt: skip
# the sheet of findings that await a decision; from "decision" on it is filled in, then read as a file of decisions
DECISION_SHEET: Final = (
    "fingerprint", "evidence_mark", "core_id", "register", "street", "district", "rule", "urgency", "severity",
    "message", "first_seen", "owner", "earlier_decision", "decision", "decided_by", "reason", "decided_on", "until",
    "column", "value", "original",
)  # fmt: skip

_PLACE: Final = (
    Column("file", "text", "", "File", "file of decisions"),
    Column("line", "integer", "", "Line", "line or row of the entry in that file"),
)
_REGISTER: Final = Column("register", "text", "", "Register", "register of the core")
_CORE: Final = Column("core_id", "text", "", "Core id", "id of the core")
_UNTIL: Final = Column("until", "text", "", "Until", "last day on which it holds")
_STANDING: Final = Column("standing", "text", "", "Standing", "whether it holds, and if not, why")
DECISION_REPORT: Final = (
    *_PLACE,
    _DECISION,
    Column("fingerprint", "text", "", "Fingerprint", "finding that it is about"),
    Column("rule", "text", "", "Rule", "rule that it is about"),
    _CORE,
    Column("street", "text", "", "Street", "street that it is about"),
    Column("district", "text", "", "District", "district that it is about"),
    _REGISTER,
    _WHO,
    Column("reason", "text", "", "Reason", "why it was decided so"),
    _WHEN,
    _UNTIL,
    Column("findings", "integer", "", "Findings", "findings that the entry matches"),
    Column("cells", "integer", "", "Cells", "cells of the register that a correction matches"),
    _STANDING,
    Column("problem", "text", "", "Problem", "what to correct in the entry"),
)
CORRECTION_TABLE: Final = (
    Column("row", "integer", "", "Row", "row of the core in the register"),
    _CORE,
    _REGISTER,
    Column("column", "text", "", "Column", "column of the register"),
    Column("original", "text", "", "Original", "cell as the register has it"),
    Column("corrected", "text", "", "Corrected", "text that the audit used in its place, if the correction holds"),
    _WHO,
    Column("reason", "text", "", "Reason", "why it was corrected"),
    _WHEN,
    _UNTIL,
    _STANDING,
    *_PLACE,
)
