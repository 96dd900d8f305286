"""What awaits a decision: the most urgent first, without what is decided."""

import pandas as pd

from pipeline.contracts.decisions import DECISION_SHEET
from pipeline.decide.awaiting import awaiting

_CORES = pd.DataFrame(
    {
        "row": [1, 2, 3],
        "register": "works",
        "street": ["Quay Road", None, "Mill Lane"],
        "district": ["North", "South", None],
    }
)
_COLUMNS = [
    "row", "core_id", "rule", "severity", "urgency", "fingerprint", "evidence_mark", "first_seen", "owner",
]  # fmt: skip
_FINDINGS = pd.DataFrame(
    [
        ("1", "C1", "position-rounded", "check", "record", "f1", "m1", "2026-08-31", "records"),
        ("2", "C2", "open-too-long", "fail", "overdue", "f2", "m2", "2026-09-30", "north"),
        ("3", "C3", "open-too-long", "fail", "overdue", "f3", "m3", "2026-08-31", "north"),
        ("3", "C3", "flush-out-of-tolerance", "check", "hazard", "f4", "m4", "2026-09-30", "north"),
        ("1", "C1", "value-unreadable", "note", "record", "f5", "m5", "2026-07-31", "records"),
    ],
    columns=_COLUMNS,
).assign(
    message="what is wrong", decision="", decision_standing="", decided_by="", decided_on="", decided_until="",
    decision_reason="",
)  # fmt: skip


def _decided(at, decision, standing):
    findings = _FINDINGS.copy()
    findings.loc[at, ["decision", "decision_standing", "decided_by", "decided_on", "decision_reason"]] = [
        decision, standing, "Jo", "2026-09-01", "seen",
    ]  # fmt: skip
    return findings


def test_the_most_urgent_comes_first_then_the_graver_then_what_was_seen_first():
    sheet = awaiting(_FINDINGS, _CORES).sheet
    assert tuple(sheet.columns) == DECISION_SHEET
    assert sheet["fingerprint"].tolist() == ["f4", "f3", "f2", "f1", "f5"]
    assert sheet.loc[0, ["core_id", "register", "street", "district"]].tolist() == ["C3", "works", "Mill Lane", ""]
    assert sheet.loc[:, "decision":].eq("").all(axis=None)


def test_a_finding_whose_decision_holds_is_left_out_and_one_that_has_returned_says_why():
    found = awaiting(_decided(1, "defer", "holds"), _CORES)
    assert "f2" not in set(found.sheet["fingerprint"])
    assert (found.decided, found.returned) == (1, 0)
    found = awaiting(_decided(1, "defer", "evidence changed"), _CORES)
    assert found.sheet.set_index("fingerprint").loc["f2", "earlier_decision"] == (
        "defer by Jo on 2026-09-01 (seen): evidence changed"
    )
    assert (found.decided, found.returned) == (0, 1)


def test_urgencies_and_owners_narrow_the_sheet_and_the_others_are_counted():
    found = awaiting(_FINDINGS, _CORES, urgencies=["hazard", "overdue"], owners=["north"])
    assert sorted(found.sheet["fingerprint"]) == ["f2", "f3", "f4"]
    assert found.others == 2


def test_a_finding_on_several_rows_is_decided_once_and_one_without_an_id_only_by_rule():
    twice = pd.concat([_FINDINGS, _FINDINGS.iloc[[0]].assign(row="2")], ignore_index=True)
    assert len(awaiting(twice, _CORES).sheet) == 5
    found = awaiting(_FINDINGS.assign(fingerprint=["f1", None, "f3", "", "f5"]), _CORES)
    assert (len(found.sheet), found.without_id) == (3, 2)


def test_nothing_to_decide_gives_a_sheet_without_rows():
    assert len(awaiting(_FINDINGS.iloc[:0], _CORES).sheet) == 0


def test_the_same_id_in_two_registers_is_decided_twice_and_on_two_rows_of_one_once():
    findings = _FINDINGS.iloc[[1, 2]].assign(core_id="C2", fingerprint="f2", evidence_mark="m2")
    assert len(awaiting(findings, _CORES).sheet) == 1
    cores = _CORES.assign(register=["works", "works", "paving"])
    assert sorted(awaiting(findings, cores).sheet["register"]) == ["paving", "works"]
