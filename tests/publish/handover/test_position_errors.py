"""What a pack states of the errors of its positions, and what is wrong with facts that were altered."""

import dataclasses

import pandas as pd
import pytest

from pipeline.publish.handover.position_errors import position_facts, position_problems
from tests.publish.report.outcomes import outcome, reading, with_learnt


@pytest.fixture(scope="module")
def learnt(demo):
    """Every core has a learnt error, and the register may be shifted."""
    (name,) = set(demo.cores["register"].head(1))
    return with_learnt(demo, [outcome(name, reading=reading("shift")), outcome("other", reading=reading("side"))]), name


def test_confidences_rest_on_counted_cores_with_a_position(learnt, demo):
    run, _ = learnt
    placed = demo.account["placed"]
    facts = position_facts(run, pd.DataFrame({"segment_confidence": []}))
    assert facts["position_errors"] == {"learnt": placed}
    assert sum(position_facts(demo, demo.table)["position_errors"].values()) == placed + 5.0


@pytest.mark.parametrize("columns", [["row", "core_id"], ["row", "district"]])
def test_nothing_is_stated_where_no_confidence_is_handed_over(learnt, columns):
    run, _ = learnt
    assert position_facts(run, pd.DataFrame(columns=columns))["position_errors"] is None


@pytest.mark.parametrize(
    ("says", "named"),
    [
        ("shift", {"metres", "low", "high", "side"}),
        ("either", {"metres", "low", "high", "side", "kept"}),
        ("both", {"metres", "side", "kept"}),
        ("unclear", set()),
    ],
)
def test_a_shift_states_what_its_sentence_names_and_nothing_else(learnt, says, named):
    run, name = learnt
    read = run.reasons._replace(learning=[outcome(name, reading=reading(says))])
    facts = position_facts(dataclasses.replace(run, reasons=read), pd.DataFrame(columns=["row"]))
    assert set(facts["shifts"][0]) == {"register", "cores", "says"} | named
    assert position_problems(facts, None) == []
    extra = facts["shifts"][0] | {"crew": "A"}
    assert position_problems({"shifts": [extra]}, None) == ["errors of positions: found 'crew', which no page shows"]


def test_a_register_is_named_only_where_registers_are_handed_over(learnt):
    """2.4 m to the east with a standard error of 0.25 m: 1.91 to 2.89. A side of the road that is preferred is no shift."""
    run, name = learnt
    own = int((run.counted_cores["register"].eq(name)).sum())
    (kept,) = position_facts(run, pd.DataFrame(columns=["row"]))["shifts"]
    assert kept == {
        "register": None, "cores": own, "says": "shift", "side": "east", "metres": 2.4, "low": 1.9, "high": 2.9,
    }  # fmt: skip
    (named,) = position_facts(run, pd.DataFrame(columns=["row", "register"]))["shifts"]
    assert named["register"] == name


@pytest.mark.parametrize(
    ("facts", "problem"),
    [
        ({"position_errors": {"stated": 3, "learnt": 4}}, None),
        ({"position_errors": {"stated": 3, "default": 4, "default_m": 5.0}}, None),
        ({"position_errors": None, "shifts": []}, None),
        ({}, None),
        ({"position_errors": {"stated": 7, "note": "x"}}, "errors of positions: found 'note', which no page shows"),
        ({"position_errors": {"stated": 7, "default_m": 1.0}}, "errors of positions: found 'default_m', which no page shows"),
        ({"shifts": [{"says": "shift", "crew": "A"}]}, "errors of positions: found 'crew', which no page shows"),
        ({"position_errors": {"stated": 3, "learnt": 5}}, "errors of positions: found 8 cores, expected 7 with a position"),
    ],
)  # fmt: skip
def test_facts_that_no_page_shows_or_that_do_not_add_up_are_named(facts, problem):
    assert position_problems(facts, 7) == ([problem] if problem else [])


def test_without_positions_in_the_table_there_is_nothing_to_add_up():
    assert position_problems({"position_errors": {"stated": 3}}, None) == []
