"""Tests of since when findings are found, and which are new, unchanged or gone."""

import datetime as dt
from collections import Counter

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.contracts import GONE_TABLE, names_of
from pipeline.ledger.baseline import nothing_gone, with_baseline

_AUGUST, _SEPTEMBER = dt.date(2026, 8, 31), dt.date(2026, 9, 30)


def _found(*findings):
    """A table of findings, each given as fingerprint, mark of its evidence and first day; the last may be left out."""
    rows = [(*finding, None)[:3] for finding in findings]
    table = pd.DataFrame(rows, columns=["fingerprint", "evidence_mark", "first_seen"], dtype="str")
    texts = {"core_id": "A", "rule": "off-network", "severity": "fail", "message": "Far."}
    return table.assign(row=range(1, len(table) + 1), **texts)


def _compared(now, was):
    found = with_baseline(_found(*now), _SEPTEMBER, _found(*was), _AUGUST)
    return found.findings[["first_seen", "baseline"]].to_numpy().tolist(), found.gone


def test_without_an_earlier_run_everything_is_seen_first_today_and_nothing_is_called_new():
    found = with_baseline(_found(("f1", "m1")), _SEPTEMBER, None, None)
    assert found.findings["first_seen"].tolist() == ["2026-09-30"]
    assert found.findings["baseline"].isna().all()
    assert found.gone.empty


def test_a_finding_is_new_unchanged_or_gone():
    lines, gone = _compared([("f1", "m1"), ("f2", "m2")], [("f2", "m2", "2026-03-31"), ("f3", "m3", "2026-07-31")])
    assert lines == [["2026-09-30", "new"], ["2026-03-31", "unchanged"]]
    assert gone["row"].isna().all()
    assert gone.drop(columns="row").to_dict("records") == [
        {
            "core_id": "A", "rule": "off-network", "severity": "fail", "message": "Far.", "fingerprint": "f3",
            "first_seen": "2026-07-31", "last_seen": "2026-08-31", "baseline": "gone",
        }
    ]  # fmt: skip


def test_other_evidence_makes_no_other_finding():
    lines, gone = _compared([("f1", "m2")], [("f1", "m1", "2026-03-31")])
    assert lines == [["2026-03-31", "unchanged"]]
    assert gone.empty


def test_of_three_findings_with_one_fingerprint_where_two_were_one_is_new():
    lines, gone = _compared(
        [("f1", "m9"), ("f1", "m2"), ("f1", "m1")], [("f1", "m1", "2026-01-31"), ("f1", "m2", "2026-02-28")]
    )
    assert lines == [["2026-09-30", "new"], ["2026-02-28", "unchanged"], ["2026-01-31", "unchanged"]]
    assert gone.empty


def test_of_two_findings_with_one_fingerprint_where_three_were_one_is_gone():
    lines, gone = _compared([("f1", "m1"), ("f1", "m4")], [("f1", "m1"), ("f1", "m2"), ("f1", "m3")])
    assert [baseline for _, baseline in lines] == ["unchanged", "unchanged"]
    assert gone["fingerprint"].tolist() == ["f1"]


def test_findings_without_a_fingerprint_are_not_followed():
    lines, gone = _compared([(None, "m1")], [(None, "m1", "2026-03-31")])
    assert pd.isna(lines[0]).all()
    assert gone.empty


# a day after the run itself can only have been written by hand
@pytest.mark.parametrize("first_seen", [None, "", "last month", "2026-99-99", "2031-01-01"])
def test_of_a_run_that_did_not_follow_its_findings_they_are_seen_first_on_its_day(first_seen):
    lines, gone = _compared([("f1", "m1")], [("f1", None, first_seen), ("f2", None, first_seen)])
    assert lines == [["2026-08-31", "unchanged"]]
    assert gone["first_seen"].tolist() == ["2026-08-31"]


def test_what_is_gone_and_returns_is_new():
    lines, _ = _compared([("f1", "m1")], [])
    assert lines == [["2026-09-30", "new"]]


def test_the_index_of_the_findings_does_not_matter():
    now = _found(("f1", "m1"), ("f2", "m2")).set_axis([7, 7], axis="index")
    found = with_baseline(now, _SEPTEMBER, _found(("f2", "m2", "2026-03-31")).set_axis([9], axis="index"), _AUGUST)
    assert found.findings["baseline"].tolist() == ["new", "unchanged"]
    assert found.findings.index.tolist() == [7, 7]


_FINDINGS = st.lists(st.tuples(st.sampled_from(["f1", "f2", "f3"]), st.sampled_from(["m1", "m2"])), max_size=8)


@given(_FINDINGS, _FINDINGS)
def test_every_finding_of_both_runs_has_one_outcome(now, was):
    lines, gone = _compared(now, was)
    counts = Counter(baseline for _, baseline in lines)
    assert counts["unchanged"] + len(gone) == len(was)
    assert counts["unchanged"] + counts["new"] == len(now)
    # with each fingerprint as many are unchanged as both runs have
    both = Counter(finding[0] for finding in now) & Counter(finding[0] for finding in was)
    assert counts["unchanged"] == both.total()


def test_a_table_without_what_is_gone_has_the_columns_of_the_contract():
    assert nothing_gone().columns.tolist() == [*names_of(GONE_TABLE)]
    assert nothing_gone().empty
