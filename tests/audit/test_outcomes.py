"""The outcome of a rule for each core: exactly one, and the counts add up."""

import pandas as pd

from pipeline.audit import audit
from pipeline.audit.findings import Findings, find
from pipeline.audit.outcomes import AT_LIMIT, FOUND, NOT_APPLICABLE, NOT_ASSESSED, OUTCOMES, PASSED, outcome_of
from tests.audit.frames import AS_OF, OTHER, REINSTATED, SOUND, frame
from tests.audit.rules.cases import shipped_rules


def test_each_core_has_one_outcome():
    """Core A is found, B passes, C is at the limit, D lacks a value, E is one that the rule does not apply to."""
    index = pd.Index(["A", "B", "C", "D", "E"])
    able = pd.Series([True, True, True, False, False], index)
    applies = pd.Series([True, True, True, True, False], index)
    found = find(pd.DataFrame(index=index[:1]), "Wrong.", "Act.")
    told = Findings(found.templates, found.values, at_limit=pd.Index(["C"]))
    assert outcome_of(index, able, applies, told).to_dict() == {
        "A": FOUND, "B": PASSED, "C": AT_LIMIT, "D": NOT_ASSESSED, "E": NOT_APPLICABLE,
    }  # fmt: skip
    assert [OUTCOMES[code] for code in (FOUND, AT_LIMIT)] == ["found", "at the limit"]


def test_the_counts_of_a_rule_are_those_of_its_outcomes():
    cores = frame(SOUND, {**OTHER, **REINSTATED}, {**SOUND, "core_id": "C", "x_m": 90.0, "depth_mm": None})
    result = audit(cores, shipped_rules(), AS_OF, 15.0)
    counts = result.outcomes.apply(lambda column: column.value_counts()).reindex(range(len(OUTCOMES))).fillna(0).T
    rules = result.rules.set_index("rule")
    assert counts[FOUND].eq(rules["found"]).all()
    assert counts[AT_LIMIT].eq(rules["at_limit"]).all()
    assert (counts[FOUND] + counts[PASSED] + counts[AT_LIMIT]).eq(rules["assessed"]).all()
    assert counts[NOT_ASSESSED].eq(rules["not_assessed"]).all()
    assert counts[NOT_APPLICABLE].eq(rules["not_applicable"]).all()


def test_a_row_that_is_judged_on_another_row_has_not_passed_what_it_was_not_asked():
    """Row 2 is an earlier state of the core of row 1: rules about records are asked of both, others of row 1 alone."""
    core = {**SOUND, "same_core": 4, "is_copy": False, "copy_of": None, "same_row": 1}
    earlier = {**core, "same_row": 0, "is_copy": True, "copy_of": 1}
    outcomes = audit(frame(core, earlier), shipped_rules(), AS_OF, 15.0).outcomes
    assert outcomes["pavement-thin"].tolist() == [PASSED, NOT_APPLICABLE]
    assert outcomes["row-ragged"].eq(outcomes["row-ragged"].iloc[0]).all()
    # of two rows that are equal in every cell, both are asked
    same = audit(frame(core, {**earlier, "same_row": 1}), shipped_rules(), AS_OF, 15.0).outcomes
    assert same["pavement-thin"].tolist() == [PASSED, PASSED]


def test_the_urgency_of_a_core_is_that_of_its_most_urgent_failure_or_check():
    """A: a step of 9 mm (hazard) in a thin pavement (quality); B: thin; C: sound."""
    thin = {"depth_mm": 80.0, "depth_believed_mm": 80.0}
    cores = frame(
        {**SOUND, **REINSTATED, **thin, "flush_mm": 9.0},
        {**SOUND, **REINSTATED, **thin, "core_id": "B", "x_m": 50.0},
        {**SOUND, **REINSTATED, "core_id": "C", "x_m": 100.0},
    )
    urgency = audit(cores, shipped_rules(), AS_OF, 15.0).urgency
    assert urgency.tolist()[:2] == ["hazard", "quality"]
    assert pd.isna(urgency[2])
