"""By how many days a finding is over its time."""

import pandas as pd
import pytest

from pipeline.audit.findings import state_of
from pipeline.audit.overdue import OVERDUE_DAYS, overdue_days
from pipeline.audit.registry import AuditContext
from pipeline.ledger.fingerprints import evidence_marks
from tests.audit.rules import test_dates, test_timing
from tests.audit.rules.cases import apply_rule, cores_like, shipped_rules

_CASES = test_dates.CASES | test_timing.CASES
_OVERDUE = [bound.rule.slug for bound in shipped_rules() if bound.urgency == "overdue"]


@pytest.mark.parametrize("slug", [*_OVERDUE, "open-uncovered"])
def test_a_core_one_day_over_its_limit_is_one_day_overdue(slug):
    """Each breach lies a day after what is allowed; the notice due on a Friday was sent on the Monday."""
    wording, _ = apply_rule(slug, cores_like(_CASES[slug].breach))
    assert wording.values[OVERDUE_DAYS].tolist() == [3 if slug == "notice-late" else 1]


def test_days_are_those_of_the_rule_and_the_row_and_missing_for_a_rule_without_a_time():
    wordings = {
        slug: apply_rule(slug, cores_like(_CASES[slug].breach))[0] for slug in ("permit-expired", "date-in-future")
    }
    findings = pd.DataFrame(
        {"row": [1, 1, 1, 2], "rule": ["permit-expired", "date-in-future", "grout-short", "permit-expired"]}
    )
    days = overdue_days(findings, wordings)
    assert days.iloc[0] == 1
    assert days.iloc[1:].isna().all()


@pytest.mark.parametrize("slug", [*_OVERDUE, "open-uncovered"])
def test_one_more_day_is_no_other_evidence(slug):
    """Otherwise a decision about a core would end on the day after it."""
    bound = next(bound for bound in shipped_rules() if bound.rule.slug == slug)
    cores = cores_like(_CASES[slug].breach)
    marks = [
        evidence_marks(
            bound.find(cores, bound.assessed(cores), AuditContext(pd.Timestamp(day), 15.0)).worded(
                state_of(cores), cores["row"]
            ),
            bound.rule.moving,
        )
        for day in ("2026-09-30", "2026-10-01")
    ]
    assert marks[0][1] == marks[1][1]
