"""Tests of the findings that a core has in only one of two runs."""

import pandas as pd
import pytest

from pipeline.history import compare
from pipeline.history.findings import changed_findings
from tests.history.sides import run_of


def _changed(before, after):
    """Cleared and new findings of cores, each given as a table of its rules and their fingerprints."""
    sides = []
    for run in (before, after):
        cores = pd.DataFrame({"row": range(1, len(run) + 1), "findings": [";".join(rules) for rules in run]})
        found = [(str(row), *finding) for row, rules in enumerate(run, start=1) for finding in rules.items()]
        sides.append((cores, pd.DataFrame(found, columns=["row", "rule", "fingerprint"], dtype="str")))
    (was, found_before), (now, found_after) = sides
    cleared, new = changed_findings(was, now, found_before, found_after)
    return [[*map(tuple, these.to_numpy().tolist())] for these in (cleared, new)]


@pytest.mark.parametrize(
    ("before", "after", "cleared", "new"),
    [
        ({"r": "f1"}, {"r": "f1"}, [], []),
        ({"r": "f1"}, {}, [(0, "r")], []),
        ({}, {"r": "f1"}, [], [(0, "r")]),
        ({"r": "f1"}, {"s": "f2"}, [(0, "r")], [(0, "s")]),
        # the same rule about another pair
        ({"r": "f1"}, {"r": "f2"}, [(0, "r")], [(0, "r")]),
        # one of the runs does not know the finding's fingerprint
        ({"r": None}, {"r": "f2"}, [], []),
        ({"r": "f1", "s": "f3"}, {"r": "f2", "s": "f3"}, [(0, "r")], [(0, "r")]),
    ],
)
def test_findings_are_compared_by_fingerprint_where_both_runs_have_one(before, after, cleared, new):
    assert _changed([before], [after]) == [cleared, new]


def test_each_core_is_compared_with_itself():
    assert _changed([{"r": "f1"}, {}], [{}, {"r": "f1"}]) == [[(0, "r")], [(1, "r")]]


def test_runs_without_fingerprints_are_compared_by_rule():
    runs = [run_of({"findings": "r;s"}), run_of({"findings": "s;t"})]
    lines = compare(*runs).lines
    assert lines[["change", "before", "after"]].to_numpy().tolist() == [
        ["new finding", "", "t"],
        ["cleared finding", "r", ""],
    ]


def test_a_comparison_shows_a_core_that_overlaps_another_one_than_before():
    runs = [run_of({"findings": "cores-overlap"})._replace(), run_of({"findings": "cores-overlap"})]
    sides = [run._replace(findings=run.findings.assign(fingerprint=mark)) for run, mark in zip(runs, ["f1", "f2"])]
    kinds = compare(*sides).kinds.set_index("change")["cores"]
    assert (kinds["new finding"], kinds["cleared finding"]) == (1, 1)
