"""Which findings a decision is about."""

import pytest

from pipeline.decide.matching import matched_pairs
from tests.decide.frames import CORES, FINDINGS, entries, entry


def _found(**cells):
    pairs = matched_pairs(FINDINGS, CORES, entries(entry(**cells)))
    return sorted(FINDINGS.loc[pairs["finding"], "fingerprint"])


def test_a_fingerprint_names_one_finding_whatever_else_the_entry_holds():
    assert _found(fingerprint="F4", rule="open-too-long", district="South") == ["F4"]


@pytest.mark.parametrize(
    ("place", "found"),
    [
        ({}, ["F2", "F4", "F5"]),
        ({"core_id": "hv1"}, ["F2"]),
        ({"register": "WORKS"}, ["F2", "F4"]),
        ({"district": " south "}, ["F5"]),
        # the street of the segment, else as the register has it
        ({"street": "mill lane"}, ["F4", "F5"]),
        ({"street": "Quay Rd"}, []),
        ({"street": "Mill Lane", "register": "works"}, ["F4"]),
        ({"core_id": "HV 1", "district": "South"}, []),
    ],
)
def test_a_rule_is_narrowed_by_each_thing_that_is_named(place, found):
    assert _found(rule="position-rounded", **place) == found


def test_entries_narrowed_in_different_ways_are_matched_each_by_its_own():
    rows = [entry(rule="position-rounded", district="North"), entry(rule="open-too-long"), entry(fingerprint="F1")]
    pairs = matched_pairs(FINDINGS, CORES, entries(*rows)).sort_values(["entry", "finding"])
    assert pairs[["entry", "finding", "is_by_finding"]].to_numpy().tolist() == [
        [0, 1, False], [0, 3, False], [1, 2, False], [2, 0, True],
    ]  # fmt: skip


def test_a_core_of_another_register_with_the_same_id_is_not_decided_with_it():
    # the note about HV 1, and one with the same fingerprint about a core of the other register
    findings = FINDINGS.iloc[[1, 4]].assign(fingerprint="F2")
    cells = {"fingerprint": "F2"}
    found = {
        register: matched_pairs(findings, CORES, entries(entry(**cells, **named)))["finding"].tolist()
        for register, named in {
            "works": {"register": " Works"}, "paving": {"register": "paving"}, "none": {}, "renamed": {"register": "x"},
        }.items()
    }  # fmt: skip
    assert found == {"works": [1], "paving": [4], "none": [1, 4], "renamed": [1, 4]}
