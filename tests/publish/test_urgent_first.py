"""Findings in the order in which someone should act on them."""

import pandas as pd

from pipeline.publish.urgent_first import changes_in_order, most_urgent_first, rank_of


def test_a_word_that_is_missing_or_not_known_comes_last():
    assert rank_of(pd.Series(["b", None, "a", "z"], dtype="str"), ("a", "b")).tolist() == [1, 2, 0, 2]


def _findings(*rows):
    return pd.DataFrame(rows, columns=["message", "urgency", "severity"])


def test_urgency_comes_before_severity_and_equals_keep_their_order():
    found = _findings(
        ("1", "record", "fail"), ("2", "hazard", "note"), ("3", "hazard", "fail"), ("4", "overdue", "check"),
        ("5", "quality", "fail"), ("6", None, "fail"), ("7", "hazard", "fail"), ("8", "overdue", "fail"),
    )  # fmt: skip
    assert most_urgent_first(found)["message"].tolist() == [
        "3", "7", "2", "8", "4", "5", "1", "6",
    ]  # fmt: skip


def test_accepted_findings_come_last_and_none_is_left_out():
    found = _findings(("1", "hazard", "fail"), ("2", "record", "note"), ("3", "overdue", "fail")).assign(
        decision=["accept", None, None], decision_standing=["holds", None, None]
    )
    assert most_urgent_first(found)["message"].tolist() == ["3", "2", "1"]


def test_without_an_urgency_severity_decides_and_no_findings_are_no_error():
    found = _findings(("1", "record", "note"), ("2", "hazard", "fail")).drop(columns="urgency")
    assert most_urgent_first(found)["message"].tolist() == ["2", "1"]
    assert most_urgent_first(found.iloc[:0]).empty


def test_changes_come_by_the_urgency_of_their_core_in_the_later_run():
    before = pd.DataFrame({"row": [1, 2, 3], "urgency": ["hazard", "overdue", "hazard"]})
    after = pd.DataFrame({"row": [1, 2], "urgency": ["record", "quality"]})
    lines = pd.DataFrame({"row_before": [1, 2, 3, None], "row_after": [1, 2, None, 9], "core_id": list("ABCD")}).astype(
        {"row_before": "Int64", "row_after": "Int64"}
    )
    # C is in the earlier run alone; D has no urgency
    assert changes_in_order(lines, before, after)["core_id"].tolist() == ["C", "B", "A", "D"]


def test_changes_between_runs_without_urgencies_keep_their_order():
    cores = pd.DataFrame({"row": [1, 2], "urgency": pd.Series([None, None], dtype="str")})
    lines = pd.DataFrame({"row_before": [2, 1], "row_after": [2, 1], "core_id": list("AB")})
    assert changes_in_order(lines, cores, cores)["core_id"].tolist() == ["A", "B"]
