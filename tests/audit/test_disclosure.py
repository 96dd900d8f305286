"""What a finding reveals is declared for every column that a rule can read."""

import pytest

from pipeline.audit.disclosure import AS_WRITTEN, revealed_by
from pipeline.audit.registry import RULES
from pipeline.contracts import (
    AUDIT_COLUMNS,
    AUDIT_FRAME,
    CORE_COLUMNS,
    HANDED_COLUMNS,
    REGISTER_COLUMNS,
    STREET_RECORDED,
    Column,
)
from pipeline.errors import ContractError


def test_every_column_of_the_audit_reveals_known_columns():
    known = {*CORE_COLUMNS, *(column.name for column in REGISTER_COLUMNS), STREET_RECORDED, AS_WRITTEN}
    assert {name: found for name in AUDIT_COLUMNS if (found := revealed_by(name) - known)} == {}


def test_a_column_without_a_contract_or_without_what_it_reveals_is_refused(monkeypatch):
    with pytest.raises(ContractError, match="wage: not in the frame that the audit reads"):
        revealed_by("wage")
    monkeypatch.setitem(AUDIT_FRAME, "wage", Column("wage", "number"))
    with pytest.raises(ContractError, match=r"wage: its contract does not say what it reveals\. Add `reveals`"):
        revealed_by("wage")
    monkeypatch.setitem(AUDIT_FRAME, "wage", Column("wage", "number", made_from=("crew", "bags_used")))
    assert revealed_by("wage") == {"crew", "bags_used"}


@pytest.mark.parametrize(
    ("name", "columns"),
    [
        ("crew", {"crew"}),
        ("street", {STREET_RECORDED}),
        ("street_matched", {"street"}),
        # litres placed are bags and their water: with the bags known, they reveal the water
        ("grout_used_l", {"bags_used", "water_l"}),
        ("water_ratio", {"bags_used", "water_l"}),
        ("reopened_after_min", {"reinstated_at", "reopened_at"}),
        ("x_text", {AS_WRITTEN}),
        ("opened_on_text", {AS_WRITTEN}),
        ("is_open", set()),
        ("road_class", set()),
    ],
)
def test_what_a_column_reveals(name, columns):
    assert revealed_by(name) == columns


def test_a_cell_known_to_be_a_number_reveals_its_column_alone():
    assert revealed_by("x_text", is_number=True) == {"lon"}
    assert revealed_by("diameter_mm_text", is_number=True) == {"diameter_mm"}


def test_the_rules_that_stay_back_by_default_are_those_on_what_is_internal_or_cannot_be_read():
    """By hand, from what each rule's sentence quotes."""
    held = {slug for slug, rule in RULES.items() if rule.reveals - {"row", *HANDED_COLUMNS}}
    assert held == {
        "grout-short", "grout-long", "water-ratio-off", "air-temperature-outside", "bedding-off", "reopened-too-soon",
        "value-unreadable", "position-unreadable", "date-unreadable", "reinstatement-date-unreadable",
        "diameter-unreadable", "depth-unreadable", "core-in-two-registers", "core-handed-over", "id-in-two-registers",
    }  # fmt: skip
