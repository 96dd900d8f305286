"""Tests of who has to act on a finding."""

import pandas as pd
import pytest

from pipeline.errors import SettingsError
from pipeline.ledger.owners import owner_names, refuse_unknown_rules, with_owners
from pipeline.programme.owners import Owner
from tests.audit.rules.cases import shipped_rules

_CORES = pd.DataFrame(
    {
        "row": [1, 2, 3],
        "register": ["north", "south", "south"],
        "district": ["Mill Bank", "Old Market", None],
        "road_authority": ["Vale County", "Harbour Vale", None],
    }
)
_FINDINGS = pd.DataFrame(
    {
        "row": [1, 2, 3],
        "rule": ["off-network", "open-too-long", "id-missing"],
        "severity": ["fail", "fail", "check"],
        "urgency": ["record", "hazard", "record"],
    }
)


def _owners(*entries, findings=_FINDINGS):
    owners = [Owner.model_validate(entry) for entry in entries]
    return with_owners(findings, _CORES, owners, shipped_rules())["owner"].fillna("").tolist()


@pytest.mark.parametrize(
    ("scope", "owned"),
    [
        ({"rule": "off-network"}, [1]),
        ({"rule": ["off-network", "id-missing"]}, [1, 3]),
        ({"family": "identity"}, [3]),
        ({"urgency": "hazard"}, [2]),
        ({"severity": "check"}, [3]),
        ({"register": "South"}, [2, 3]),
        ({"district": "old  market"}, [2]),
        ({"road_authority": "VALE COUNTY"}, [1]),
        ({"register": "south", "severity": "fail"}, [2]),
        ({"district": "Nowhere"}, []),
        ({}, [1, 2, 3]),
    ],
)
def test_an_owner_has_the_findings_that_match_everything_it_names(scope, owned):
    assert _owners({"name": "Yard", **scope}) == ["Yard" if row in owned else "" for row in (1, 2, 3)]


def test_the_first_owner_that_matches_has_the_finding():
    assert _owners({"name": "One", "severity": "fail"}, {"name": "Two", "register": "south"}) == ["One", "One", "Two"]


def test_an_owner_may_have_several_entries_and_its_first_spelling_is_used():
    entries = [{"name": "North yard", "rule": "off-network"}, {"name": "north  YARD", "rule": "id-missing"}]
    assert _owners(*entries) == ["North yard", "", "North yard"]
    assert owner_names([Owner.model_validate(entry) for entry in entries]) == ["North yard"]


def test_without_owners_and_without_findings_nobody_owns_anything():
    assert _owners() == ["", "", ""]
    assert _owners({"name": "Yard"}, findings=_FINDINGS.iloc[:0]) == []


@pytest.mark.parametrize(
    ("scope", "said"),
    [
        (
            {"rule": "of-network"},
            'owners "Yard".rule: found "of-network", expected a rule that `kerfbook rules` lists. Did you mean "off-',
        ),
        (
            {"family": ["sizes", "wages"]},
            'owners "Yard".family: found "wages", expected one of: "confidence", "dates", ',
        ),
    ],
)
def test_a_rule_or_family_that_does_not_exist_is_refused(scope, said):
    with pytest.raises(SettingsError) as error:
        refuse_unknown_rules([Owner(name="Yard", **scope)], shipped_rules(), "here.toml")
    assert said in str(error.value)


def test_rules_and_families_that_exist_are_accepted():
    refuse_unknown_rules([Owner(name="Yard", rule=["Off-Network"], family=["sizes"])], shipped_rules(), "here.toml")
