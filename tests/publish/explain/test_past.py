"""Decisions as far as a run records them, and the core's status by run."""

import pandas as pd

from pipeline.publish.explain.past import decisions_section, history_section
from tests.publish.explain.rows import SHOW, texts

_FOUND = {"row": ["7"], "rule": ["permit-expired"]}


def test_without_a_decision_that_is_said():
    assert texts(decisions_section(pd.DataFrame(_FOUND), SHOW)) == [
        "No decision is recorded on a finding about this core."
    ]
    empty = pd.DataFrame({**_FOUND, "decision": [None], "first_seen": ["2026-08-31"], "owner": [None]})
    assert texts(decisions_section(empty, SHOW)) == [
        "No decision is recorded on a finding about this core.", "Permit expired", "7", "First seen: 2026-08-31",
    ]  # fmt: skip


def test_a_decision_is_shown_with_who_why_and_whether_it_stands():
    found = pd.DataFrame(
        {
            **_FOUND, "decision": ["accept"], "decided_by": ["J. Doe"], "decided_on": ["2026-09-01"],
            "decided_until": ["2026-12-31"], "decision_reason": ["permit <renewed>"], "decision_standing": ["holds"],
            "owner": ["permits desk"],
        }
    )  # fmt: skip
    label, row, recorded = texts(decisions_section(found, SHOW))
    assert (label, row) == ("Permit expired", "7")
    assert recorded == (
        "Decision: accept; by: J. Doe; on: 2026-09-01; until: 2026-12-31; reason: permit <renewed>; standing: holds; "
        "Owner: permits desk"
    )


def test_the_history_starts_with_the_first_run_that_has_the_core():
    history = pd.DataFrame(
        {
            "as_of": ["2026-08-31", "2026-09-30"], "row": [5, 7], "status": ["flagged", "pending"],
            "findings": ["permit-expired;row-ragged", None],
        }
    )  # fmt: skip
    said = texts(history_section(history, "2026-09-30", ["2026-10-31"], ["The run of 2026-07-31 is not read."], SHOW))
    assert said == [
        "First seen in the runs kept: 31 Aug 2026.",
        "31 Aug 2026", "5", "Flagged", "Permit expired and Row ragged",
        "30 Sept 2026 (this run)", "7", "Pending", "none",
        "A later run is kept: 31 Oct 2026. Its results may differ.",
        "The run of 2026-07-31 is not read.",
    ]  # fmt: skip
