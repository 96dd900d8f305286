"""Which findings someone has accepted, and until when."""

import pandas as pd
import pytest

from pipeline.publish.acceptance import accepted_in_words, accepted_until, with_acceptance
from pipeline.publish.words import words_of

_WORDS = words_of("en")
_FINDINGS = pd.DataFrame(
    [
        ("a.", "accept", "holds", "2026-12-31"),
        ("b.", "accept", "holds", None),
        ("c.", "accept", "expired", "2026-01-31"),
        ("d.", "accept", "evidence changed", "2026-12-31"),
        ("e.", "defer", "holds", "2026-12-31"),
        ("f.", None, None, None),
    ],
    columns=["message", "decision", "decision_standing", "decided_until"],
)


def _shown(column):
    return column.astype(object).where(column.notna(), None).tolist()


def test_a_finding_is_accepted_while_its_acceptance_holds():
    assert _shown(accepted_until(_FINDINGS)) == ["2026-12-31", "", None, None, None, None]


@pytest.mark.parametrize("kind", ["datetime64[us]", "datetime64[us, UTC]"])
def test_the_last_day_may_be_a_date(kind):
    dated = _FINDINGS.assign(decided_until=_FINDINGS["decided_until"].astype(kind))
    assert _shown(accepted_until(dated)) == ["2026-12-31", "", None, None, None, None]


@pytest.mark.parametrize("lost", ["decision", "decision_standing"])
def test_without_decisions_nothing_is_accepted(lost):
    assert accepted_until(_FINDINGS.drop(columns=lost)).isna().all()


def test_without_a_column_for_the_last_day_an_acceptance_has_no_end():
    assert _shown(accepted_until(_FINDINGS.drop(columns="decided_until")))[:2] == ["", ""]


def test_an_acceptance_reads_as_a_date_of_the_language():
    said = accepted_in_words(accepted_until(_FINDINGS), _WORDS)
    assert _shown(said)[:3] == ["accepted until 31 Dec 2026", "accepted, no end date", None]


def test_an_accepted_finding_keeps_its_message_and_says_that_it_is_accepted():
    found = with_acceptance(_FINDINGS, _WORDS)
    assert found["message"].tolist() == [
        "a. [accepted until 31 Dec 2026]", "b. [accepted, no end date]", "c.", "d.", "e.", "f.",
    ]  # fmt: skip
    plain = _FINDINGS.drop(columns="decision")
    assert with_acceptance(plain, _WORDS) is plain
