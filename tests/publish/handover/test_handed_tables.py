"""The handed tables of cores and findings, made from a few rows by hand."""

from types import SimpleNamespace

import pandas as pd
import pytest

from pipeline.audit.findings import Wording
from pipeline.contracts import CORE_COLUMNS, HANDED_ALWAYS
from pipeline.publish.handover.contents import handed_cores, handed_findings, rules_kept_back

_MESSAGES = {
    "one": "Wrong by 5. The utility must correct the register.",
    "two": "Late. The utility must settle it with you.",
}


def _wording(row, fault, remedy, **values):
    index = pd.Index([row], name="row")
    templates = pd.DataFrame({"fault": fault, "remedy": remedy}, index=index, dtype="str")
    return Wording(templates, pd.DataFrame(values, index=index), {})


def _result(columns, *, present=("street", "crew"), reveals=None):
    """Two cores of a register that keeps streets and crews, and one finding of each of two rules."""
    table = pd.DataFrame({name: ["", ""] for name in CORE_COLUMNS}).assign(row=[1, 2], crew=["as read", "as read"])
    cores = pd.DataFrame({"street": ["Quay", "Lane"], "crew": ["understood"] * 2})
    findings = pd.DataFrame(
        {"row": [1, 2], "core_id": ["A", "B"], "rule": ["one", "two"], "severity": "note", "message": "for the utility",
         "evidence": ["e1", "e2"]}
    )  # fmt: skip
    wordings = {
        "one": _wording(1, "Wrong by {off}.", "Correct the register.", off=5),
        "two": _wording(2, "Late.", "Settle it with the road authority."),
    }
    rules = pd.DataFrame({"rule": ["one", "two"], "title": ["Title of one.", "Title of two."]})
    return SimpleNamespace(
        table=table,
        cores=cores,
        inputs=SimpleNamespace(register=SimpleNamespace(present=frozenset(present))),
        settings=SimpleNamespace(
            handover=SimpleNamespace(columns=[*HANDED_ALWAYS, *columns]), programme=SimpleNamespace(language="en")
        ),
        audit=SimpleNamespace(findings=findings, rules=rules, reveals=reveals or {}, wordings=wordings),
    )


def test_a_column_of_the_contract_is_handed_over_as_understood_even_if_the_register_calls_its_own_so():
    handed = handed_cores(_result(["crew", "street_recorded"]))
    assert list(handed) == ["row", *HANDED_ALWAYS, "crew", "street_recorded"]
    assert handed["street_recorded"].tolist() == ["Quay", "Lane"]


def test_a_column_that_the_register_does_not_keep_is_left_out():
    assert list(handed_cores(_result(["remarks", "cover_m"]))) == ["row", *HANDED_ALWAYS]


def test_a_date_that_the_register_does_not_keep_is_left_out_though_the_table_has_a_column_for_it():
    assert list(handed_cores(_result(["opened_on"]))) == ["row", *HANDED_ALWAYS]


@pytest.mark.parametrize(
    ("reveals", "kept_back"),
    [
        ({"one": {"status"}, "two": {"lon", "lat"}}, set()),
        ({"one": {"crew"}, "two": {"row"}}, {"one"}),
        # a rule that compares a column that is handed over with one that is not
        ({"one": {"status", "crew"}, "two": {"crew"}}, {"one", "two"}),
        # a column that this register does not keep has nothing to reveal
        ({"one": {"remarks"}, "two": set()}, set()),
    ],
)
def test_a_rule_is_kept_back_for_any_column_that_is(reveals, kept_back):
    result = _result([], reveals={slug: frozenset(columns) for slug, columns in reveals.items()})
    assert rules_kept_back(result) == kept_back
    handed = handed_findings(result).set_index("rule")
    for slug, message in _MESSAGES.items():
        assert handed.loc[slug, "message"] == (f"Title of {slug}." if slug in kept_back else message)
        assert bool(pd.isna(handed.loc[slug, "evidence"]) or not handed.loc[slug, "evidence"]) == (
            slug in kept_back or slug == "two"
        )
    # the findings themselves stay: their number is part of the account
    assert len(handed) == 2
