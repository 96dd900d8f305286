"""What is said of a rule that the demo does not show as planned."""

import pandas as pd
import pytest

from sample_data.check_demo import check

RULES = pd.Series(["depth-missing", "permit-expired"])


def _findings(*rows):
    return pd.DataFrame(rows, columns=["row", "rule"])


BOTH = _findings((3, "depth-missing"), (7, "depth-missing"), (7, "permit-expired"))


def test_a_demo_that_shows_every_rule_as_planted_needs_nothing():
    assert check(RULES, BOTH, BOTH) == []


def test_a_rule_that_no_core_breaches_is_named_with_the_file_to_edit():
    (message,) = check(pd.Series([*RULES, "cover-shallow"]), BOTH, BOTH)
    assert message.startswith("cover-shallow: no core of the demo breaches this rule. ")
    assert '("cover-shallow", "any", {column: text})' in message
    assert "sample_data/planted_troubles.py" in message


def test_a_rule_that_cores_breach_without_being_planted_is_named_with_their_rows():
    found = pd.concat([BOTH, _findings(*((row, "cover-shallow") for row in range(1, 9)))])
    (message,) = check(pd.Series([*RULES, "cover-shallow"]), found, BOTH)
    assert message.startswith("cover-shallow: data rows 1, 2, 3, 4, 5, 6 and 2 more of cores.csv breach this rule")


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (BOTH.iloc[1:], "data row 3 planted and not found"),
        (pd.concat([BOTH, _findings((9, "depth-missing"))]), "data row 9 not planted"),
        (
            pd.concat([BOTH.iloc[2:], _findings((1, "depth-missing"), (2, "depth-missing"))]),
            "data rows 1, 2 not planted, data rows 3, 7 planted and not found",
        ),
    ],
)
def test_a_finding_too_many_or_too_few_is_named_by_its_row(found, words):
    assert check(RULES, found, BOTH) == [
        f"depth-missing: {words}. Change the rule, or what sample_data/ plants for it."
    ]


def test_a_planted_rule_that_does_not_exist_is_named():
    (message,) = check(RULES.iloc[:1], BOTH.iloc[:2], BOTH)
    assert message.startswith("permit-expired: planted, but there is no such rule.")
