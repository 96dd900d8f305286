"""Tests of the owners in a programme file."""

import pytest
from pydantic import ValidationError

from pipeline.programme.owners import Owner


def test_a_lone_name_is_a_list_of_one_and_what_is_not_named_is_no_limit():
    owner = Owner.model_validate({"name": " Yard ", "district": "Mill Bank", "register": ["north", "south"]})
    assert owner.name == "Yard"
    assert owner.scope == {"district": ["Mill Bank"], "register": ["north", "south"]}


def test_urgency_and_severity_are_read_whatever_their_case():
    assert Owner.model_validate({"name": "Yard", "urgency": "Hazard", "severity": ["FAIL"]}).scope == {
        "urgency": ["hazard"],
        "severity": ["fail"],
    }


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"urgency": "urgent"}, 'found "urgent", expected one of: hazard, overdue, quality, record'),
        ({"severity": "bad"}, 'found "bad", expected one of: fail, check, note'),
        ({"rule": 7}, "valid list"),
        ({"district": [""]}, "at least 1 character"),
        ({"name": " "}, "at least 1 character"),
        ({"crew": "A"}, "Extra inputs"),
    ],
)
def test_what_is_no_name_is_refused(wrong, said):
    with pytest.raises(ValidationError, match=said):
        Owner.model_validate({"name": "Yard", **wrong})
