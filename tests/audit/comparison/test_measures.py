"""What rules and workmanship come to by group."""

import numpy as np
import pandas as pd
import pytest

from pipeline.audit.comparison.measures import WORKMANSHIP, grounds_of, is_workmanship, strata_of, tallies
from pipeline.audit.outcomes import AT_LIMIT, FOUND, NOT_APPLICABLE, NOT_ASSESSED, PASSED
from tests.audit.comparison.worlds import AS_OF, cores_of, outcomes_of, rule_book


def _tallies(cores, outcomes, rules=None):
    rules = rule_book(list(outcomes)) if rules is None else rules
    return {(one.measure, one.by): one for one in tallies(outcomes, rules, grounds_of(cores, outcomes, rules, AS_OF))}


def test_a_rule_counts_the_cores_it_could_assess():
    """Crew A: found, passed, at the limit, not assessed; crew B: passed, and one that the rule does not apply to."""
    cores = cores_of(crew=["A"] * 4 + ["B"] * 2)
    found = _tallies(cores, outcomes_of(grout_short=[FOUND, PASSED, AT_LIMIT, NOT_ASSESSED, PASSED, NOT_APPLICABLE]))
    tally = found["grout-short", "crew"]
    assert tally.names == ["A", "B"]
    assert tally.raw.checks.tolist() == [3, 1]
    assert tally.raw.found.tolist() == [1, 0]
    assert tally.raw.at_limit.tolist() == [1, 0]
    assert tally.not_recorded.tolist() == [1, 0]


def test_workmanship_compares_each_core_by_the_rules_it_was_assessed_by():
    """Both crews do the same by each rule, but B records only the rule that rarely finds anything: no difference.

    Of 10 and 10 cores the hard rule finds half, the easy one a tenth. A has 5 + 1 findings in 20 checks and B 1 in 10.
    By the hard rule nobody is there to be compared with; by the easy one each is expected to have 1 of 2.
    """
    cores = cores_of(crew=["A"] * 10 + ["B"] * 10)
    hard = [FOUND] * 5 + [PASSED] * 5 + [NOT_ASSESSED] * 10
    easy = ([FOUND] + [PASSED] * 9) * 2
    work = _tallies(cores, outcomes_of(grout_short=hard, bedding_off=easy))[WORKMANSHIP, "crew"]
    assert work.raw.checks.tolist() == [20, 10]
    assert work.raw.found.tolist() == [6, 1]
    assert work.raw.more.tolist() == work.raw.more_found.tolist() == [1, 1]
    assert work.cores.tolist() == [10, 10]


def test_a_rule_that_finds_nothing_is_not_compared():
    cores = cores_of(crew=["A", "B"])
    assert not _tallies(cores, outcomes_of(grout_short=[PASSED, PASSED]))


def test_a_single_group_is_compared_with_nobody():
    cores = cores_of(crew=["A", "A"], register=["north", "south"])
    found = _tallies(cores, outcomes_of(grout_short=[FOUND, PASSED]))
    assert {by for _, by in found} == {"contractor"}


@pytest.mark.parametrize(
    ("family", "severity", "applies_to", "is_work"),
    [
        ("placement", "fail", "reinstated", True),
        ("timing", "check", "reinstated", True),
        ("placement", "note", "reinstated", False),
        ("timing", "check", "open", False),
        ("position", "fail", "reinstated", False),
    ],
)
def test_workmanship_is_what_a_crew_answers_for(family, severity, applies_to, is_work):
    rules = pd.concat([rule_book(["x"], family, severity, applies_to), rule_book(["shade-differs"], "surface")])
    assert is_workmanship(rules).tolist() == [is_work, True]


def test_cores_are_alike_where_all_bands_are_the_same():
    bands = pd.DataFrame({"surface": [0, 0, 1, -1], "age": [0, 1, 0, 0], "size": [5, 5, 5, 5]})
    assert len(np.unique(strata_of(bands, ("surface", "age")))) == 4
    assert len(np.unique(strata_of(bands, ("surface",)))) == 3
    assert strata_of(bands, ()).tolist() == [0, 0, 0, 0]
