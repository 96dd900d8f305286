"""Rules on dates."""

from tests.audit.frames import REINSTATED, opened_days_ago
from tests.audit.rules.cases import Case

CASES = {
    "date-unreadable": Case(
        breach={"planned_on_problem": "unreadable", "planned_on_text": "soon"},
        says='Planned "soon" is not a date. Correct the register; a date such as 2026-09-30 is always understood.',
        passes={"reinstated_at_problem": "x"},
        missing={"opened_on_text": None},
    ),
    "reinstatement-date-unreadable": Case(
        breach={"reinstated_at_problem": "unreadable", "reinstated_at_text": "done"},
        says='Reinstated "done" is not a date. Correct the register; a date such as 2026-09-30 is always understood.',
        passes={"reinstated_at_text": "2026-09-10", "opened_on_problem": "unreadable"},
        missing={"reinstated_at_text": None},
    ),
    "date-implausible": Case(
        breach={"opened_on": "1989-12-31"},
        says="Too early to be true: Opened 1989-12-31 (earliest plausible date 1990-01-01). Correct the register.",
        passes={},
        on_limit={"opened_on": "1990-01-01"},
        missing={"opened_on": None},
    ),
    "date-in-future": Case(
        breach={"opened_on": "2026-10-01"},
        says="Dated after the audit on 2026-09-30: Opened 2026-10-01. Correct the register.",
        passes={"planned_on": "2027-01-01"},
        on_limit={"opened_on": "2026-09-30"},
        missing={"opened_on": None},
    ),
    "dates-out-of-order": Case(
        breach={"plated_on": "2026-09-08"},
        says="Dates out of order: Plated 2026-09-08 is before Opened 2026-09-09. Correct the register.",
        passes=REINSTATED,
        on_limit={"plated_on": "2026-09-09"},
        missing={"opened_on": None},
    ),
    "open-too-long": Case(
        breach={"opened_on": opened_days_ago(31)},
        says="Open for 31 days, since 2026-08-30 (limit 30 days). Reinstate it now.",
        passes={"opened_on": opened_days_ago(1)},
        on_limit={"opened_on": opened_days_ago(30)},
        missing={"opened_on": None},
    ),
}
