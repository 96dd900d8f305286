"""Tests of what makes a strict audit fail."""

import pandas as pd
import pytest

from pipeline.ledger.gate import cores_failing

_FOUND = pd.DataFrame(
    [
        (1, "fail", "unchanged", False),
        (1, "fail", "unchanged", False),
        (2, "fail", "new", True),
        (3, "check", "new", False),
        (4, "fail", "new", False),
        (5, "fail", None, False),
        (6, "fail", "new", True),
        (6, "fail", "unchanged", False),
    ],
    columns=["row", "severity", "baseline", "is_accepted"],
)


def _failing(findings, **only):
    return cores_failing(findings, findings["is_accepted"], **only)


def test_a_core_fails_unless_all_its_failures_are_accepted():
    # 1, 4, 5 and 6; 2 is accepted and 3 is a check
    assert _failing(_FOUND) == 4


def test_of_new_failures_those_that_the_earlier_run_had_are_left_out_and_those_that_cannot_be_followed_are_not():
    # 4 is new and 5 cannot be followed; the new failure of 6 is accepted
    assert _failing(_FOUND, only_new=True) == 2


@pytest.mark.parametrize("only_new", [False, True])
def test_without_an_earlier_run_all_failures_are_new(only_new):
    assert _failing(_FOUND.assign(baseline=None), only_new=only_new) == 4


def test_without_findings_no_core_fails():
    assert _failing(_FOUND.iloc[:0], only_new=True) == 0
