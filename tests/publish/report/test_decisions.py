"""What the report and the comparison say about decisions."""

import dataclasses
import datetime as dt
from pathlib import Path

import pandas as pd
import pytest

from pipeline.contracts import names_of
from pipeline.contracts.decisions import CORRECTION_TABLE, DECISION_REPORT
from pipeline.programme.decisions import Decisions
from pipeline.publish.report.decisions import answer_in_words, decision_counts, decisions, decisions_between
from pipeline.publish.report.report import draw_report
from pipeline.publish.words import words_of
from pipeline.readback.runs import Run
from tests.publish.report.pages import table_of, text_of

_WORDS = words_of("en")


_CELLS = ["decision", "decided_by", "decided_on", "decided_until", "decision_reason", "decision_standing"]
_ACCEPTED = ["accept", "Jo <b>", "2026-09-01", "2026-12-31", "seen", "holds"]
_EXPIRED = ["dispute", "Mo", None, "2026-08-31", "wrong street", "expired"]


def _line(columns, **cells):
    return pd.DataFrame([dict.fromkeys(names_of(columns), "") | cells])


@pytest.fixture(scope="module")
def decided(demo):
    """The demo with three findings accepted and one whose decision expired."""
    findings = demo.audit.findings.copy()
    first = findings.index[findings["rule"].eq(findings["rule"].iloc[0])][:3]
    findings.loc[first, _CELLS] = _ACCEPTED
    findings.loc[findings.index[-1], _CELLS] = _EXPIRED
    report = _line(
        DECISION_REPORT, file="d.csv", line=7, standing="does not hold", problem="reason is empty: enter why"
    )
    corrections = _line(
        CORRECTION_TABLE, row=4, core_id="HV-4", column="dia", original="45", corrected="450", standing="holds"
    )
    return dataclasses.replace(
        demo,
        settings=demo.settings.model_copy(update={"decisions": Decisions(path="d.csv")}),
        audit=dataclasses.replace(demo.audit, findings=findings),
        decided=dataclasses.replace(demo.decided, report=report, corrections=corrections),
    )


def test_a_programme_without_decisions_says_so(demo):
    assert decisions(demo, _WORDS) == {"decided": None}
    assert "names no file of decisions" in text_of(draw_report(demo))


def test_findings_decided_alike_are_one_line_with_who_and_why(decided):
    page = draw_report(decided)
    table = text_of(table_of(page, "decisions-in-force"))
    assert "3 findings with a decision that holds" in table
    assert "Accepted" in table
    assert "Jo <b>" not in page
    assert "Jo &lt;b&gt;" in page
    returned = text_of(table_of(page, "decisions-returned"))
    assert "1 finding has returned" in returned
    assert "Mo" in returned
    assert "wrong street" in returned


def test_corrections_and_entries_to_correct_are_listed(decided):
    page = draw_report(decided)
    corrected = text_of(table_of(page, "corrected-cells"))
    assert [word for word in ("HV-4", "dia", "45", "450", "no end") if word not in corrected] == []
    problems = text_of(table_of(page, "decisions-to-correct"))
    assert "d.csv , 7" in problems
    assert "reason is empty: enter why" in problems


def test_counts_are_by_decision_and_by_whether_it_holds():
    findings = pd.DataFrame(
        [["accept", "holds"], ["accept", "holds"], ["defer", "expired"], [None, None]],
        columns=["decision", "decision_standing"],
    )
    assert decision_counts(findings, _WORDS) == [
        {"decision": "Accepted", "counts": ["2", "", ""]},
        {"decision": "Deferred", "counts": ["", "1", ""]},
    ]


def test_a_finding_in_a_list_is_marked_by_its_decision_and_by_how_that_ended():
    marks = [
        answer_in_words({"decision": decision, "decision_standing": standing}, _WORDS)
        for decision, standing in [("dispute", "holds"), ("accept", "expired"), (None, None), (float("nan"), None)]
    ]
    assert marks == ["Disputed", "Accepted: Expired", "", ""]
    assert answer_in_words({}, _WORDS) == ""


def _run(day, *rows):
    cores = pd.DataFrame({"row": [1, 2, 3], "copy_of": pd.array([None, None, 1], dtype="Int64")})
    findings = pd.DataFrame(rows, columns=["row", "fingerprint", "rule", *_CELLS])
    return Run(Path(), {"as_of": day}, cores, findings)


def test_a_comparison_names_what_was_newly_decided_and_what_returned():
    before = _run("2026-08-31", ["1", "f1", "open-too-long", *_ACCEPTED], ["2", "f2", "open-too-long", *[None] * 6])
    after = _run(
        "2026-09-30",
        ["1", "f1", "open-too-long", *_ACCEPTED],
        ["2", "f2", "open-too-long", *_ACCEPTED],
        ["2", "f3", "street-differs", *_EXPIRED],
        # a copy is not counted
        ["3", "f2", "open-too-long", *_ACCEPTED],
    )  # fmt: skip
    shown = decisions_between(before, after, _WORDS)
    assert [run["day"] for run in shown["runs"]] == [dt.date(2026, 8, 31), dt.date(2026, 9, 30)]
    assert [run["counts"][0]["counts"] for run in shown["runs"]] == [["1", "", ""], ["2", "", ""]]
    assert [row["findings"] for row in shown["new"]["rows"]] == ["1"]
    assert shown["returned"]["caption"] == "1 finding has returned: its decision no longer holds"
    assert decisions_between(_run("2026-08-31"), _run("2026-09-30"), _WORDS) is None
