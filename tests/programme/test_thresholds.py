"""Which thresholds apply, where, and who set them; and how a wrong one is refused."""

import pandas as pd
import pytest

from pipeline.audit import audit, bind_rules
from pipeline.errors import SettingsError
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Thresholds
from pipeline.programme.thresholds import ThresholdSetting, codes, threshold_settings, unknown_threshold
from tests.audit.frames import AS_OF, REINSTATED, SOUND, frame

_FLUSH = "flush-out-of-tolerance"


def _rules(thresholds, own=None):
    return bind_rules(load_catalogue({"rules": own} if own else {}, "test", Thresholds(**thresholds)), "test")


def _cores():
    """Return five cores that are 4 mm proud, under several authorities, classes and surfaces."""
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


def test_a_threshold_without_a_scope_applies_everywhere():
    assert _found(_rules({}))[0] == []
    assert _found(_rules({}, {_FLUSH: {"max_step": "3 mm"}}))[0] == [0, 1, 2, 3, 4]


def test_an_authority_is_matched_in_any_case_and_others_keep_their_threshold():
    rules = _rules({"where": [{"road_authority": "County", "rules": {_FLUSH: {"max_step": "3 mm"}}}]})
    found, result = _found(rules)
    assert found == [0, 1]
    assert result.wordings[_FLUSH].values["max_step_mm"].tolist() == [3.0, 3.0]
    assert result.thresholds[["value", "where", "origin", "cores"]].to_numpy().tolist() == [
        ["3 mm", "road authority County", "programme", 2],
        ["5 mm", "everywhere", "shipped", 3],
    ]


def test_everything_that_a_scope_names_must_match():
    where = [
        {"road_authority": "Town", "road_class": "main", "surface": "concrete", "rules": {_FLUSH: {"max_step": "3 mm"}}}
    ]
    assert _found(_rules({"where": where}))[0] == [2]


def test_of_two_scopes_the_later_one_is_used():
    narrow = {"road_class": "main", "rules": {_FLUSH: {"max_step": "3 mm"}}}
    wide = {"surface": "concrete", "rules": {_FLUSH: {"max_step": "9 mm"}}}
    assert _found(_rules({"where": [narrow, wide]}))[0] == [0]
    assert _found(_rules({"where": [wide, narrow]}))[0] == [0, 2]


def test_the_programme_overrides_its_code_and_a_scope_overrides_both():
    own = {_FLUSH: {"max_step": "3 mm"}}
    assert _found(_rules({"code": "england"}))[0] == []
    assert _found(_rules({"code": "england"}, own))[0] == [0, 1, 2, 3, 4]
    assert _found(_rules({"code": "england", "where": [{"surface": "concrete", "code": "england"}]}, own))[0] == [
        0,
        1,
        4,
    ]


def test_each_threshold_of_a_code_names_its_source_and_is_one_that_a_rule_has():
    for code in codes():
        rules = _rules({"code": code})
        found = [setting for one in rules for setting, _ in one.settings if setting.origin == f"code {code}"]
        assert len(found) >= 3, code
        assert all(setting.source and setting.kind != "programme" for setting in found), code


def test_the_shipped_codes_are_by_country():
    assert codes() == ["england", "north-america", "scotland", "wales"]


@pytest.mark.parametrize("code", ["uk", "UK", "gb"])
def test_the_united_kingdom_has_several_laws_and_the_error_names_them(code):
    with pytest.raises(SettingsError, match="which has several laws") as error:
        _rules({"code": code})
    assert 'Write "england", "wales" or "scotland"; Northern Ireland is not covered.' in str(error.value)


def test_a_code_makes_a_failure_of_a_rule_that_rests_on_law_alone():
    severity = {
        code: next(one.severity for one in _rules({"code": code} if code else {}) if one.rule.slug == "interim-too-old")
        for code in (None, *codes())
    }
    assert severity == {None: "check", "england": "fail", "north-america": "check", "scotland": "fail", "wales": "fail"}


def test_a_programme_overrides_the_severity_that_its_code_sets():
    rules = _rules({"code": "england"}, {"interim-too-old": {"severity": "note"}})
    assert next(one.severity for one in rules if one.rule.slug == "interim-too-old") == "note"


def test_where_another_code_applies_no_limit_of_the_first_one_is_left():
    """England allows 7 mm fewer in wide openings than our default; Wales sets no depression, so it has our default there."""
    thresholds = {"code": "england", "where": [{"road_authority": "Town", "code": "wales"}]}
    bound = next(one for one in _rules(thresholds) if one.rule.slug == "surface-depression")
    elsewhere, here = bound.settings[-2][0], bound.settings[-1][0]
    assert (elsewhere.origin, elsewhere.scope) == ("code england", {})
    assert (here.origin, here.kind, here.scope) == ("shipped", "our default", {"road_authority": "Town"})


def test_a_limit_of_the_programme_is_kept_where_a_code_that_does_not_set_it_applies():
    thresholds = {"code": "england", "where": [{"road_authority": "Town", "code": "wales"}]}
    bound = next(one for one in _rules(thresholds, {_FLUSH: {"max_step": "3 mm"}}) if one.rule.slug == _FLUSH)
    assert [setting.written for setting, _ in bound.settings] == ["5 mm", "5 mm", "3 mm"]


def test_a_threshold_may_have_a_source_of_its_own():
    own = {_FLUSH: {"max_step": {"value": "3 mm", "source": "permit 12"}}}
    bound = next(one for one in _rules({}, own) if one.rule.slug == _FLUSH)
    assert bound.written() == {"max_step": "3 mm"}
    assert bound.source == "set by the programme: permit 12"
    assert [(one.source, one.kind) for one, _ in bound.settings] == [
        ("our default", "our default"),
        ("set by the programme: permit 12", "programme"),
    ]


def test_a_rule_names_its_source_and_that_of_each_limit_with_another_one():
    bound = next(one for one in _rules({"code": "england"}) if one.rule.slug == "cores-too-close")
    assert bound.source == (
        "SROH 4th ed. (2020) S6.7: 300 mm clear between perimeters; "
        "nominal diameter: common practice, no source: 18 in is the usual size"
    )


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
        for one in _rules({"code": "england", "where": [{"road_authority": "Alba", "code": "scotland"}]})
        if one.rule.slug == "guarantee-ending"
    ]
    assert audit(cores, rules, AS_OF, 15.0).findings["core_id"].tolist() == ["A-1"]


def test_the_case_of_a_class_of_road_changes_no_limit_of_a_code():
    found = []
    for name in ("footway", "Footway"):
        rules = _rules({"where": [{"road_class": name, "code": "scotland"}]})
        bound = next(one for one in rules if one.rule.slug == "street-protected")
        found.append([setting.written for setting, _ in bound.settings])
    assert found[0] == found[1]
    assert "1 year" in found[0]


def test_a_date_and_a_limit_by_width_may_differ_by_road_too():
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
        ({"code": "atlantis"}, None, "thresholds.code: found 'atlantis', expected one of: "),
        ({"where": [{"surface": "lava", "code": "england"}]}, None, "thresholds.where no. 1.surface: found 'lava', expected one of"),
        ({"where": [{"road_class": "lane", "code": "england"}]}, None, "thresholds.where no. 1.road_class: found 'lane'"),
        ({"where": [{"surface": "asphalt", "rules": {"no-such": {"limit": "1 m"}}}]}, None, "no rule is called 'no-such'"),
        ({"where": [{"surface": "asphalt", "rules": {_FLUSH: {"limit": "1 mm"}}}]}, None, f"catalogue.rules.{_FLUSH}.limit: unknown threshold. Use max_step (now '5 mm')."),
        ({"where": [{"surface": "asphalt", "rules": {_FLUSH: {"severity": "note"}}}]}, None, "found severity, which is the same everywhere"),
        ({"where": [{"surface": "asphalt", "rules": {_FLUSH: {"urgency": "record"}}}]}, None, "found urgency, which is the same everywhere"),
        ({"where": [{"surface": "asphalt", "rules": {_FLUSH: {"max_step": "3 kg"}}}]}, None, "found '3 kg', expected a length"),
        ({}, {"surface-depression": {"max_depression": [["600 mm", "3 mm"], ["500 mm", "4 mm"], ["above", "5 mm"]]}}, "expected pairs of width and limit, rising"),
        ({}, {"surface-depression": {"max_depression": "12 mm"}}, "expected pairs of width and limit"),
        ({}, {_FLUSH: {"max_step": {"value": "3 mm", "unit": "mm"}}}, "expected a value with its source"),
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
    [
        ({"code": "england"}, "found none, expected one or more of road_authority"),
        ({"surface": "asphalt"}, "found no thresholds"),
    ],
)
def test_a_scope_without_a_road_or_without_a_rule_is_refused(where, said):
    with pytest.raises(ValueError, match=said):
        Thresholds(where=[where])


def _setting(**scope):
    return ThresholdSetting("open-too-long", "max_open", "30 day", "here", "programme", scope)


@pytest.mark.parametrize(
    ("scope", "where"),
    [
        ({}, "everywhere"),
        ({"road_authority": "County"}, "road authority County"),
        ({"road_class": "main", "surface": "concrete"}, "road class main and surface concrete"),
    ],
)
def test_a_scope_reads_as_words(scope, where):
    assert _setting(**scope).where == where


def test_a_core_that_lacks_what_a_scope_names_is_outside_it():
    cores = _cores()
    assert _setting(road_authority=" COUNTY ").applies(cores).tolist() == [True, True, False, False, False]
    assert _setting(road_class="main", surface="asphalt").applies(cores).tolist() == [True, False, False, False, False]
    assert _setting().applies(cores).all()


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ({"max_step": "5 mm"}, "p: rules.x.limit: unknown threshold. Use max_step (now '5 mm')."),
        ({"min": "1 m", "max": "2 m"}, "p: rules.x.limit: unknown threshold. Use min (now '1 m') or max (now '2 m')."),
        ({}, "p: rules.x.limit: unknown threshold, the rule has none. Remove the line."),
    ],
)
def test_an_unknown_threshold_is_refused_with_those_that_there_are(written, said):
    assert unknown_threshold("p: rules.x", "limit", written, [*written]) == said


def test_a_rule_that_is_no_table_is_refused_with_an_example():
    with pytest.raises(SettingsError, match=r"p: rules\.r: found '3 mm', expected a table of thresholds") as error:
        threshold_settings({"r": {"max_step": "5 mm"}}, Thresholds(), {"r": "3 mm"}, "p")
    assert 'Write a line such as rules.r.max_step = "5 mm"' in str(error.value)


def test_settings_come_in_the_order_in_which_a_later_one_overrides_an_earlier_one():
    shipped = {"r": {"severity": "fail", "source": "s", "max_step": "5 mm"}}
    where = [{"surface": "asphalt", "rules": {"r": {"max_step": "1 mm"}}, "source": "the town"}]
    own = {"r": {"max_step": "3 mm"}}
    found = threshold_settings(shipped, Thresholds(where=where), own, "p", "Quay 2026")
    assert [(one.origin, one.written, one.source, one.where) for one in found] == [
        ("shipped", "5 mm", "s", "everywhere"),
        ("programme", "3 mm", "set by Quay 2026", "everywhere"),
        ("programme", "1 mm", "set by Quay 2026: the town", "surface asphalt"),
    ]
