"""Which decision counts for a finding, and whether it holds."""

import pandas as pd
import pytest

from pipeline.decide import decide, is_accepted
from tests.decide.frames import CORES, FINDINGS, URGENCIES, corrected, entries, entry


def _decide(*rows, cells=()):
    return decide(FINDINGS, CORES, entries(*rows), corrected(*cells), URGENCIES)


def _of(decided, finding):
    at = FINDINGS.index[FINDINGS["fingerprint"].eq(finding)][0]
    return tuple(decided.columns.loc[at, ["decision", "decision_standing"]].fillna(""))


def test_without_decisions_every_cell_is_missing_and_nothing_is_reported():
    decided = decide(FINDINGS, CORES, entries(), corrected(), URGENCIES)
    assert decided.columns.isna().all(axis=None)
    assert len(decided.columns) == len(FINDINGS)
    assert (len(decided.report), len(decided.corrections), decided.notices) == (0, 0, [])


def test_a_decision_holds_while_its_evidence_is_the_same():
    decided = _decide(entry(fingerprint="F3", evidence_mark="day 1", until="2026-12-31"))
    assert decided.columns.loc[2].tolist() == [
        "accept", "J. Okafor", "2026-09-01", "2026-12-31", "seen on site", "holds",
    ]  # fmt: skip
    assert decided.columns.drop(index=2).isna().all(axis=None)
    assert decided.report["standing"].tolist() == ["holds"]
    assert decided.notices == []


def test_a_finding_whose_evidence_changed_has_returned_and_says_so():
    decided = _decide(entry(fingerprint="F3", evidence_mark="day 0"))
    assert _of(decided, "F3") == ("accept", "evidence changed")
    assert decided.notices == ["decisions.csv, line 2: no longer holds because its evidence changed; decide again."]


def test_a_finding_whose_decision_expired_has_returned_and_says_so():
    decided = _decide(entry(fingerprint="F3", evidence_mark="day 1", standing="expired"))
    assert _of(decided, "F3") == ("accept", "expired")
    assert decided.report["standing"].tolist() == ["expired"]


@pytest.mark.parametrize("standing", ["not yet in force", "does not hold"])
def test_an_entry_that_is_not_in_force_answers_nothing(standing):
    decided = _decide(entry(fingerprint="F3", evidence_mark="day 1", standing=standing))
    assert _of(decided, "F3") == ("", "")
    assert decided.report["standing"].tolist() == [standing]


def test_a_hazard_cannot_be_accepted_without_an_end():
    decided = _decide(entry(fingerprint="F1", evidence_mark="step 9"))
    assert _of(decided, "F1") == ("", "")
    assert decided.report["standing"].tolist() == ["does not hold"]
    assert decided.notices == ["decisions.csv, line 2: a hazard cannot be accepted without an end: enter until."]


def test_a_hazard_can_be_accepted_with_an_end_and_disputed_or_deferred_without():
    mark = {"fingerprint": "F1", "evidence_mark": "step 9"}
    assert _of(_decide(entry(**mark, until="2026-10-31")), "F1") == ("accept", "holds")
    for decision in ("dispute", "defer"):
        assert _of(_decide(entry(**mark, decision=decision)), "F1") == (decision, "holds")


def test_a_rule_of_hazards_cannot_be_accepted_without_an_end_even_where_it_finds_nothing():
    decided = _decide(entry(rule="flush-out-of-tolerance", district="South"))
    assert decided.report["standing"].tolist() == ["does not hold"]


def test_the_later_of_two_entries_for_a_finding_wins_and_the_other_is_reported():
    mark = {"fingerprint": "F3", "evidence_mark": "day 1"}
    decided = _decide(entry(**mark, decided_on="2026-09-02"), entry(**mark, decision="dispute"))
    assert _of(decided, "F3") == ("accept", "holds")
    assert decided.report["standing"].tolist() == ["holds", "superseded"]
    assert decided.notices == [
        "decisions.csv, line 3: is superseded by another decision about the same finding or cell; delete one of the two."
    ]
    # on the same day, the one that is written last
    assert _of(_decide(entry(**mark), entry(**mark, decision="dispute")), "F3") == ("dispute", "holds")


def test_a_decision_about_the_evidence_of_today_comes_before_a_later_one_about_other_evidence():
    first = entry(fingerprint="F3", evidence_mark="day 1")
    later = entry(fingerprint="F3", evidence_mark="day 0", decided_on="2026-09-09", decision="dispute")
    assert _of(_decide(first, later), "F3") == ("accept", "holds")


def test_a_decision_about_a_finding_comes_before_one_by_rule_unless_it_does_not_hold():
    by_rule = entry(rule="open-too-long", decision="defer", decided_on="2026-09-20")
    own = entry(fingerprint="F3", evidence_mark="day 1")
    assert _of(_decide(own, by_rule), "F3") == ("accept", "holds")
    assert _of(_decide(own | {"standing": "expired"}, by_rule), "F3") == ("defer", "holds")
    assert _of(_decide(own | {"standing": "expired"}, by_rule | {"standing": "expired"}), "F3") == ("accept", "expired")


def test_a_decision_by_rule_does_not_depend_on_the_evidence_and_counts_what_it_matches():
    decided = _decide(entry(rule="position-rounded"))
    assert [_of(decided, finding)[1] for finding in ("F2", "F4", "F5")] == ["holds"] * 3
    assert decided.report["findings"].tolist() == [3]


def test_an_unknown_rule_and_an_entry_that_matches_nothing_are_reported():
    decided = _decide(entry(rule="potholes"), entry(rule="open-too-long", district="South"), entry(fingerprint="F9"))
    assert decided.report["standing"].tolist() == ["does not hold", "matches nothing", "matches nothing"]
    assert decided.notices == [
        'decisions.csv, line 2: no rule is called "potholes"; `kerfbook rules` lists them.',
        (
            "decisions.csv, 2 entries (lines 3, 4): match no finding and no cell of a register; delete them, or correct "
            "what they name."
        ),
    ]


def test_a_correction_stands_as_its_cells_do_whatever_the_evidence():
    fix = entry(decision="correct", fingerprint="F3", evidence_mark="day 0", core_id="HV 2", column="cut", value="x")
    cell = (0, 2, "HV 2", "works", "cut", "2026-01-01", "x")
    assert _of(_decide(fix, cells=[(*cell, "holds")]), "F3") == ("correct", "holds")
    for standing in ("expired", "evidence changed"):
        assert _of(_decide(fix, cells=[(*cell, standing)]), "F3") == ("correct", standing)
    assert _decide(fix).report["standing"].tolist() == ["matches nothing"]
    decided = _decide(fix, cells=[(*cell, "no such column")])
    unread = _decide(fix, cells=[(*cell, "not a date")])
    assert unread.report["standing"].tolist() == unread.corrections["standing"].tolist() == ["does not hold"]
    assert "value is not a date" in unread.report["problem"].iloc[0]
    shared = _decide(fix, cells=[(*cell, "several rows")])
    assert shared.report["standing"].tolist() == shared.corrections["standing"].tolist() == ["does not hold"]
    assert "several rows carry this core id" in shared.report["problem"].iloc[0]
    assert decided.report[["standing", "problem"]].iloc[0].tolist() == [
        "no such column", "the register has no such column",
    ]  # fmt: skip


def test_only_an_accepted_finding_whose_decision_holds_is_accepted():
    rows = [("accept", "holds"), ("accept", "expired"), ("dispute", "holds"), ("", "")]
    findings = pd.DataFrame(rows, columns=["decision", "decision_standing"])
    assert is_accepted(findings).tolist() == [True, False, False, False]
