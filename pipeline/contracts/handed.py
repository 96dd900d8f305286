"""The rule book as a road authority is handed it."""

from typing import Final

from pipeline.contracts.column import Column
from pipeline.contracts.tables import AUDIT_TABLES

__all__ = ["HANDED_RULE_TABLE"]

_RULES: Final = {column.name: column for column in AUDIT_TABLES["rules"]}
# how many cores a rule could assess is the utility's own business
HANDED_RULE_TABLE: Final = (
    *(_RULES[name] for name in ("rule", "title", "severity", "limits", "source", "urgency", "family")),
    Column(
        "set_by",
        "text",
        "",
        "Set by",
        "each limit with where it applies and who set it: a law or code of practice with its clause, the utility, "
        "common practice, or the tool's default",
    ),
)
