"""Every rule has a fault that it should find, or a reason why none is planted; every kind has its words."""

from pathlib import Path

import pytest

import pipeline.audit  # noqa: F401 - the rules register themselves
from pipeline.audit.registry import RULES
from pipeline.contracts import REGISTER_COLUMNS
from pipeline.publish.words import load_words
from pipeline.rehearse.kinds import KINDS, NOT_PLANTED

_KNOWN = {rule for kind in KINDS for rule in kind.rules}
_WORDS = load_words()


@pytest.mark.parametrize("rule", sorted(RULES))
def test_every_rule_has_a_planted_fault_or_a_reason_for_having_none(rule):
    """A new rule goes into the rules of a kind in pipeline/rehearse/kinds.py, or into NOT_PLANTED there."""
    assert (rule in _KNOWN) != (rule in NOT_PLANTED)


def test_no_kind_names_a_rule_that_is_none():
    assert (_KNOWN | set(NOT_PLANTED)) - set(RULES) == set()


def test_kinds_have_names_of_their_own_and_spoil_columns_of_a_register():
    names = [kind.name for kind in KINDS]
    assert len(set(names)) == len(names) > 80
    columns = {column.name for column in REGISTER_COLUMNS} | {"x", "y"}
    assert {name for kind in KINDS for name in kind.spoils} - columns == set()
    assert all(len(set(kind.rules)) > 0 or kind.rules == () for kind in KINDS)


def test_each_kind_group_and_reason_is_in_the_words_file_and_no_other():
    def of(table):
        return {key.split(".")[1] for key in _WORDS if key.startswith(f"{table}.")}

    assert of("rehearse_kind") == {kind.name.replace("-", "_") for kind in KINDS}
    assert of("rehearse_group") == {kind.group for kind in KINDS}
    reasons = {key.removeprefix("not_planted_") for key in of("rehearse") if key.startswith("not_planted_")}
    assert reasons == set(NOT_PLANTED.values())


def test_some_kinds_are_known_to_no_rule():
    assert {"letter-in-id", "crew-of-another", "permit-of-another"} <= {kind.name for kind in KINDS if not kind.rules}


def test_the_readme_counts_the_kinds():
    readme = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
    assert f"{len(KINDS)} kinds, ten of which no rule" in readme
    assert sum(not kind.rules for kind in KINDS) == 10
