"""What is left to act on: with decisions and without."""

from dataclasses import replace
from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.publish.actions import actions_of
from pipeline.results import RunResult

# core 1 has both kinds, core 2 is flagged for its record, core 3 only has a check, core 4 only a note
_FINDINGS = pd.DataFrame(
    [
        (1, "grout-short", "fail", "quality"),
        (1, "id-duplicated", "fail", "record"),
        (2, "id-duplicated", "fail", "record"),
        (3, "plated-too-long", "check", "overdue"),
        (4, "inspection-missed", "note", "overdue"),
    ],
    columns=["row", "rule", "severity", "urgency"],
)
_CORES = pd.DataFrame(
    {"row": [1, 2, 3, 4], "status": ["flagged", "flagged", "pending", "reinstated"], "is_copy": False}
)


def _actions(**decided):
    findings = _FINDINGS.assign(**decided)
    wordings = {"plated-too-long": SimpleNamespace(values=pd.DataFrame({"overdue_days": [4]}, index=[3]))}
    result = object.__new__(RunResult)
    for name, value in {"cores": _CORES, "audit": SimpleNamespace(findings=findings, wordings=wordings)}.items():
        object.__setattr__(result, name, value)
    return actions_of(result)


def test_a_core_with_both_kinds_is_under_the_most_urgent_and_notes_are_no_action():
    actions = _actions()
    assert actions.urgency.to_dict() == {1: "quality", 2: "record", 3: "overdue"}
    assert (actions.repair, actions.correct, actions.settled, actions.accepted) == (1, 1, 0, 0)
    assert actions.findings["overdue_days"].dropna().tolist() == [4]


def test_an_accepted_finding_leaves_and_the_next_most_urgent_counts():
    """The short grout of core 1 is accepted: its id is left, and a status is what it was."""
    actions = _actions(decision=["accept", "", "", "", ""], decision_standing=["holds", "", "", "", ""])
    assert actions.urgency.to_dict() == {1: "record", 2: "record", 3: "overdue"}
    assert (actions.repair, actions.correct, actions.settled, actions.accepted) == (0, 2, 0, 1)


def test_a_flagged_core_of_which_all_is_accepted_is_settled():
    actions = _actions(decision=["accept", "accept", "", "", ""], decision_standing=["holds", "holds", "", "", ""])
    assert (actions.repair, actions.correct, actions.settled, actions.accepted) == (0, 1, 1, 2)


@pytest.mark.parametrize(
    ("decision", "standing"),
    [("dispute", "holds"), ("defer", "holds"), ("accept", "expired"), ("accept", "evidence changed")],
)
def test_any_other_decision_leaves_a_finding_to_act_on(decision, standing):
    actions = _actions(decision=decision, decision_standing=standing)
    assert len(actions.findings) == 4
    assert actions.accepted == 0


def test_findings_on_copies_are_not_counted_twice():
    result = object.__new__(RunResult)
    audit = SimpleNamespace(findings=_FINDINGS, wordings={})
    cores = _CORES.assign(is_copy=[True, False, False, False])
    object.__setattr__(result, "cores", cores)
    object.__setattr__(result, "audit", audit)
    assert replace(actions_of(result), findings=None, urgency=None).correct == 1
    assert 1 not in actions_of(result).urgency
