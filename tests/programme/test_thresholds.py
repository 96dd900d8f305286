"""Whose thresholds hold where, and what is said of a wrong one."""

import pandas as pd
import pytest

from pipeline.audit import audit, bind_rules
from pipeline.errors import SettingsError
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Thresholds
from pipeline.programme.thresholds import codes
from tests.audit.frames import AS_OF, REINSTATED, SOUND, frame

_FLUSH = "flush-out-of-tolerance"


def _rules(thresholds, own=None):
    return bind_rules(load_catalogue({"rules": own} if own else {}, "test", Thresholds(**thresholds)), "test")


def _cores():
    """Five cores that stand 4 mm proud, of several authorities, classes and surfaces."""
    places = [
        ("County", "main", "asphalt"),
        ("county ", "local", "asphalt"),
        ("Town", "main", "concrete"),
        ("Town", "local", "concrete"),
        (None, None, "asphalt"),
    ]
    return frame(
        *(
            {**SOUND, **REINSTATED, "core_id": f"A-{place}", "x_m": 100.0 * place, "flush_mm": 4.0,
             "road_authority": authority, "road_class": road_class, "surface": surface}
            for place, (authority, road_class, surface) in enumerate(places)
        )
    )  # fmt: skip


def _found(rules, slug=_FLUSH):
    result = audit(_cores(), [one for one in rules if one.rule.slug == slug], AS_OF, 15.0)
    return sorted(result.findings["core_id"].str[-1].astype(int)), result


def test_a_threshold_of_everywhere_holds_everywhere():
    assert _found(_rules({}))[0] == []
    assert _found(_rules({}, {_FLUSH: {"max_step": "3 mm"}}))[0] == [0, 1, 2, 3, 4]


def test_an_authority_is_known_in_any_case_and_others_keep_their_threshold():
    rules = _rules({"where": [{"road_authority": "County", "rules": {_FLUSH: {"max_step": "3 mm"}}}]})
    found, result = _found(rules)
    assert found == [0, 1]
    assert result.wordings[_FLUSH].values["max_step_mm"].tolist() == [3.0, 3.0]
    assert result.thresholds[["value", "where", "origin", "cores"]].to_numpy().tolist() == [
        ["3 mm", "road authority County", "programme", 2],
        ["5 mm", "everywhere", "shipped", 3],
    ]


def test_all_that_a_place_names_must_be_so():
    where = [
        {"road_authority": "Town", "road_class": "main", "surface": "concrete", "rules": {_FLUSH: {"max_step": "3 mm"}}}
    ]
    assert _found(_rules({"where": where}))[0] == [2]


def test_of_two_places_the_later_one_holds():
    narrow = {"road_class": "main", "rules": {_FLUSH: {"max_step": "3 mm"}}}
    wide = {"surface": "concrete", "rules": {_FLUSH: {"max_step": "9 mm"}}}
    assert _found(_rules({"where": [narrow, wide]}))[0] == [0]
    assert _found(_rules({"where": [wide, narrow]}))[0] == [0, 2]


def test_what_the_programme_says_of_everywhere_beats_its_code_and_a_place_beats_both():
    own = {_FLUSH: {"max_step": "3 mm"}}
    assert _found(_rules({"code": "uk"}))[0] == []
    assert _found(_rules({"code": "uk"}, own))[0] == [0, 1, 2, 3, 4]
    assert _found(_rules({"code": "uk", "where": [{"surface": "concrete", "code": "uk"}]}, own))[0] == [0, 1, 4]


def test_each_threshold_of_a_code_names_its_source_and_is_one_that_a_rule_has():
    for code in codes():
        rules = _rules({"code": code})
        found = [setting for one in rules for setting, _ in one.settings if setting.origin == f"code {code}"]
        assert len(found) >= 5
        assert all(setting.source not in {"", "programme file"} for setting in found), code


def test_the_codes_are_those_of_the_kingdom_and_of_america():
    assert codes() == ["north-america", "scotland", "uk"]


def test_a_guarantee_is_longer_in_scotland():
    core = {
        **SOUND,
        "opened_on": "2024-10-01",
        "reinstated_at": "2024-12-31",
        "is_open": False,
        "inspection_known": "no",
    }
    cores = frame(core, {**core, "core_id": "A-2", "x_m": 100.0, "road_authority": "Alba"})
    rules = [
        one
        for one in _rules({"code": "uk", "where": [{"road_authority": "Alba", "code": "scotland"}]})
        if one.rule.slug == "guarantee-ending"
    ]
    assert audit(cores, rules, AS_OF, 15.0).findings["core_id"].tolist() == ["A-1"]


def test_a_date_and_a_limit_by_width_may_differ_by_place_too():
    where = [
        {"road_authority": "County", "rules": {"date-implausible": {"earliest": pd.Timestamp("2026-09-20").date()}}},
        {
            "surface": "concrete",
            "rules": {"surface-depression": {"max_depression": [["500 mm", "3 mm"], ["above", "4 mm"]]}},
        },
    ]
    rules = _rules({"where": where})
    assert _found(rules, "date-implausible")[0] == [0, 1]
    cores = _cores().assign(depression_mm=5.0)
    result = audit(cores, [one for one in rules if one.rule.slug == "surface-depression"], AS_OF, 15.0)
    assert result.findings["core_id"].tolist() == ["A-2", "A-3"]
    assert result.wordings["surface-depression"].values["limit_mm"].tolist() == [3.0, 3.0]


@pytest.mark.parametrize(
    ("thresholds", "own", "said"),
    [
        ({"code": "atlantis"}, None, "thresholds.code: found 'atlantis', expected one of: north-america, scotland, uk"),
        ({"where": [{"surface": "lava", "code": "uk"}]}, None, "thresholds.where.0.surface: found 'lava', expected one of"),
        ({"where": [{"road_class": "lane", "code": "uk"}]}, None, "thresholds.where.0.road_class: found 'lane'"),
        ({"where": [{"surface": "asphalt", "rules": {"no-such": {"limit": "1 m"}}}]}, None, "no rule is called 'no-such'"),
        ({"where": [{"surface": "asphalt", "rules": {_FLUSH: {"limit": "1 mm"}}}]}, None, f"catalogue.rules.{_FLUSH}.limit: unknown threshold. Use max_step (now '5 mm')."),
        ({"where": [{"surface": "asphalt", "rules": {_FLUSH: {"severity": "note"}}}]}, None, "found a severity, which is the same everywhere"),
        ({"where": [{"surface": "asphalt", "rules": {_FLUSH: {"max_step": "3 kg"}}}]}, None, "found '3 kg', expected a length"),
        ({}, {"surface-depression": {"max_depression": [["600 mm", "3 mm"], ["500 mm", "4 mm"], ["above", "5 mm"]]}}, "expected pairs of width and limit, rising"),
        ({}, {"surface-depression": {"max_depression": "12 mm"}}, "expected pairs of width and limit"),
        ({}, {"notice-late": {"max_delay": "10 day"}}, "expected a number of working days with its unit"),
        ({}, {"interim-too-old": {"max_interim": "180 day"}}, "expected a number of months or years with its unit"),
    ],
)  # fmt: skip
def test_a_wrong_threshold_is_refused_in_words(thresholds, own, said):
    with pytest.raises(SettingsError, match=r"test: ") as error:
        _rules(thresholds, own)
    assert said in str(error.value)


@pytest.mark.parametrize(
    ("where", "said"),
    [({"code": "uk"}, "to say where"), ({"surface": "asphalt"}, "to say what holds there")],
)
def test_a_place_without_a_place_or_without_a_rule_is_refused(where, said):
    with pytest.raises(ValueError, match=said):
        Thresholds(where=[where])
