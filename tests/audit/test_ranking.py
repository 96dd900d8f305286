"""The order in which rules are listed."""

import pandas as pd

from pipeline.audit.ranking import by_urgency, urgency_rank

_RULES = pd.DataFrame(
    [
        ("untidy", "record", "fail", 90),
        ("few", "quality", "fail", 1),
        ("many", "quality", "fail", 7),
        ("to-check", "quality", "check", 50),
        ("late", "overdue", "note", 2),
        ("hole", "hazard", "check", 1),
        ("also-few", "quality", "fail", 1),
    ],
    columns=["rule", "urgency", "severity", "found"],
)


def test_the_most_urgent_come_first_then_failures_then_those_on_the_most_cores_then_by_name():
    assert by_urgency(_RULES)["rule"].tolist() == [
        "hole", "late", "many", "also-few", "few", "to-check", "untidy",
    ]  # fmt: skip


def test_rules_without_counts_are_listed_by_name_within_a_severity():
    assert by_urgency(_RULES.drop(columns="found"))["rule"].tolist()[2:5] == ["also-few", "few", "many"]


def test_the_order_does_not_depend_on_that_of_the_rows():
    assert by_urgency(_RULES.iloc[::-1])["rule"].tolist() == by_urgency(_RULES)["rule"].tolist()


def test_no_urgency_has_no_rank():
    ranks = urgency_rank(pd.Series(["record", None, "hazard"]))
    assert (ranks[0], ranks[2]) == (3, 0)
    assert pd.isna(ranks[1])
