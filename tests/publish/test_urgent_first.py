"""Findings in the order in which someone should act on them."""

import pandas as pd

from pipeline.publish.urgent_first import most_urgent_first, rank_of


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
