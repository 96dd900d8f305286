"""What would find more: records that would, and no others; limits as narrow as a register's own sizes."""

import numpy as np
import pandas as pd
import pytest

from pipeline.audit import bind_rules, limits_of
from pipeline.audit.outcomes import FOUND
from pipeline.audit.rules.confidence import StreetNameLimits
from pipeline.programme.catalogue import load_catalogue
from pipeline.rehearse.advice import narrower_limits, rank_remedies, with_place_before
from pipeline.rehearse.kinds import KINDS

_EXCHANGED = "sizes-exchanged"


def _register(diameters, depth=200.0):
    cores = pd.DataFrame({"diameter_mm": diameters, "depth_mm": depth})
    rules = ["diameter-implausible", "depth-implausible"]
    return cores, pd.DataFrame(FOUND + 1, cores.index, rules)


def _missed(diameter, depth, kind=_EXCHANGED):
    return pd.DataFrame({"kind": [kind], "diameter_mm": [diameter], "depth_mm": [depth]})


def test_sizes_that_no_row_has_would_be_found_by_limits_about_those_that_rows_have():
    """Of 1,000 diameters from 300 to 600 mm the fifth least and greatest are the limits, in whole millimetres."""
    cores, outcomes = _register(np.linspace(300.2, 599.9, 1000))
    found = narrower_limits(_missed(200.0, 450.0), KINDS, cores, outcomes)
    assert found.to_dict("records") == [
        {"rule": "diameter-implausible", "low_mm": 301.0, "high_mm": 599.0, "faults": 1, "cores": 6},
        {"rule": "depth-implausible", "low_mm": 200.0, "high_mm": 200.0, "faults": 1, "cores": 0},
    ]


def test_sizes_that_the_rule_questions_already_do_not_widen_the_limits():
    cores, outcomes = _register([450.0] * 200 + [45.0] * 50)
    assert narrower_limits(_missed(100.0, 200.0), KINDS, cores, outcomes).empty
    outcomes.loc[200:, "diameter-implausible"] = FOUND
    assert narrower_limits(_missed(100.0, 200.0), KINDS, cores, outcomes)["low_mm"].tolist() == [450.0]


@pytest.mark.parametrize(
    ("missed", "count"),
    [
        (_missed(450.0, 200.0), 1000),
        # a kind that the rule does not know, and sizes that are lost
        (_missed(200.0, 450.0, "street-of-another"), 1000),
        (_missed(np.nan, np.nan), 1000),
        # too few sizes to say what is out of the ordinary
        (_missed(200.0, 450.0), 99),
    ],
)
def test_nothing_is_proposed_that_would_find_nothing_or_rests_on_few_rows(missed, count):
    cores, outcomes = _register([450.0] * count)
    assert narrower_limits(missed, KINDS, cores, outcomes).empty


def _moved(**given):
    """Return a core that a slip of a digit put from Quay Road, on asphalt, to where ``given`` says; nothing recorded."""
    known = {
        "kind": "digit-wrong-y", "is_copy": False, "is_open": True, "register": "cores", "reinstated_at": pd.NaT,
        "x_m": 1.0, "street": None, "street_matched": "Oat Street", "segment_confidence": 0.999, "name_match": np.nan,
        "surface_recorded": None, "surface_recorded_name": None, "surface_on_map": "asphalt",
    } | given  # fmt: skip
    before = pd.DataFrame({"street_matched": ["Quay Road"], "surface_on_map": ["asphalt"]})
    return with_place_before(pd.DataFrame({name: [value] for name, value in known.items()}), before)


@pytest.mark.parametrize(
    ("slips", "wanted"),
    [
        ([_moved()], {"street": 1}),
        ([_moved(surface_on_map="concrete"), _moved()], {"street": 2, "surface_recorded": 1}),
        # where the street stays the same, or is too uncertain, or is recorded, its name would show nothing
        ([_moved(street_matched="Quay Road")], {}),
        ([_moved(segment_confidence=0.5)], {}),
        ([_moved(street="Quay Road", name_match=0.0)], {}),
        # nor would it where what is wrong is the name itself
        ([_moved(kind="street-of-another")], {}),
    ],
)
def test_a_record_is_advised_where_the_map_has_something_else_than_before_the_slip(slips, wanted):
    """A street or surface that is written down shows a slip only if the slip led into another one."""
    rules = [
        bound
        for bound in bind_rules(load_catalogue({}, "test"), "test")
        if bound.rule.slug in {"street-differs", "surface-differs"}
    ]
    missed = pd.concat(slips, ignore_index=True)
    limits = limits_of(rules, "street-differs", StreetNameLimits, missed)
    found = rank_remedies(missed, KINDS, rules, {}, limits)
    assert dict(zip(found["input"], found["faults"], strict=True)) == wanted
