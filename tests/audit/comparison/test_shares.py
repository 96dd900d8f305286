"""Shares by district, street and age, which are shown and not compared."""

import pytest

from pipeline.audit.comparison.shares import FLAGGED, WORK_FINDINGS, plain_shares
from pipeline.audit.outcomes import FOUND, NOT_ASSESSED, PASSED
from tests.audit.comparison.worlds import AS_OF, cores_of, outcomes_of, rule_book


def _shares(cores, outcomes, severity="fail"):
    table = plain_shares(cores, outcomes, rule_book(list(outcomes), severity=severity), AS_OF)
    return {key: rows.set_index("group") for key, rows in table.groupby(["measure", "by"])}


def test_a_share_is_of_the_cores_that_some_rule_assessed():
    """Of five cores of a street one was assessed by nothing, and one of the others has two findings."""
    cores = cores_of(street_matched=["Quay"] * 5)
    outcomes = outcomes_of(
        grout_short=[FOUND, PASSED, NOT_ASSESSED, PASSED, NOT_ASSESSED],
        bedding_off=[FOUND, PASSED, PASSED, NOT_ASSESSED, NOT_ASSESSED],
    )
    street = _shares(cores, outcomes)[FLAGGED, "street"].loc["Quay"]
    assert street[["cores", "with_findings", "not_recorded", "rate"]].tolist() == [4, 1, 1, 0.25]
    assert street["differs"] == "too few"


def test_streets_are_not_compared_and_have_exact_intervals():
    """All of six: the lower end is the sixth root of 0.025."""
    shares = _shares(cores_of(street_matched=["Quay"] * 6), outcomes_of(grout_short=[FOUND] * 6))
    street = shares[FLAGGED, "street"].loc["Quay"]
    assert street["differs"] == "not compared"
    assert street["low"] == pytest.approx(0.025 ** (1 / 6))


def test_only_failures_flag_a_core_and_checks_on_the_work_are_work_findings():
    shares = _shares(cores_of(street_matched=["Quay"] * 6), outcomes_of(grout_short=[FOUND] * 6), severity="check")
    assert (FLAGGED, "street") not in shares
    assert shares[WORK_FINDINGS, "days since reinstatement"]["with_findings"].tolist() == [6]
