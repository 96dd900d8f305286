"""Which rules the inputs allow to be assessed, and what the others lack."""

import pytest

import pipeline.audit  # noqa: F401 - the families register their rules as they are imported
from pipeline.audit.assessable import lacking_inputs
from pipeline.audit.registry import RULES
from pipeline.contracts import REGISTER_COLUMNS

_ALWAYS = {"core_id", "diameter_mm", "depth_mm"}
_EVERYTHING = {
    *(column.name for column in REGISTER_COLUMNS),
    *("surfaces", "districts", "joints", "resurfaced", "planned_works"),
    *("roads.surface", "roads.slope"),
}


@pytest.mark.parametrize(
    ("rule", "kept", "lacking"),
    [
        ("permit-expired", set(), (("permit_expires_on",),)),
        ("permit-expired", {"permit_expires_on"}, ()),
        # a rule on reinstated cores needs the date that makes them such
        ("flush-out-of-tolerance", {"flush_mm"}, (("reinstated_at",),)),
        # what is worked out from the register is lacking where the register lacks it
        ("water-ratio-off", {"reinstated_at", "bags_used"}, (("water_l",),)),
        # a cell as it was written is there where the column is kept
        ("reinstatement-date-unreadable", {"reinstated_at"}, ()),
        ("district-outside", set(), (("districts",),)),
        # a surface may come from three inputs
        ("surface-not-allowed", set(), (("surfaces", "roads.surface", "surface_recorded"),)),
        ("surface-not-allowed", {"roads.surface"}, ()),
        ("joint-near", {"surfaces"}, (("joints",),)),
        ("slope-steep", {"roads.slope"}, ()),
        ("street-differs", set(), (("street",),)),
        # positions and roads are always there
        ("off-network", set(), ()),
        ("position-zero", set(), ()),
        ("diameter-implausible", set(), ()),
    ],
)
def test_a_rule_lacks_what_neither_register_nor_layers_have(rule, kept, lacking):
    assert lacking_inputs(RULES[rule], _ALWAYS | kept) == lacking


def test_a_rule_that_compares_two_dates_lacks_the_second():
    (choices,) = lacking_inputs(RULES["dates-out-of-order"], _ALWAYS | {"opened_on"})
    assert "opened_on" not in choices
    assert "reinstated_at" in choices
    assert lacking_inputs(RULES["dates-out-of-order"], _ALWAYS | {"opened_on", "reinstated_at"}) == ()


def test_with_every_input_no_rule_lacks_one():
    assert {slug: lacking for slug, rule in RULES.items() if (lacking := lacking_inputs(rule, _EVERYTHING))} == {}
