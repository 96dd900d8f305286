"""The audit as a whole: findings in order, status, slugs, the rule book and the thresholds in force."""

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.audit import audit, bind_rules, rule_book
from pipeline.audit.findings import Findings, find
from pipeline.audit.registry import RULES, BoundRule, Rule
from pipeline.errors import ContractError
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Thresholds
from pipeline.workdays import Calendar
from tests.audit.frames import AS_OF, OTHER, REINSTATED, SOUND, frame, opened_days_ago
from tests.audit.rules.cases import bound_rule, cores_like, shipped_rules

_FEW = [bound_rule(slug) for slug in ("id-missing", "pavement-thin", "open-too-long", "flush-out-of-tolerance")]
_THIN = {"depth_mm": 80.0, "depth_believed_mm": 80.0}


def test_status_is_flagged_before_reinstated_before_pending():
    cores = frame(
        {**SOUND, **REINSTATED, "x_m": 0.0},
        {**SOUND, **REINSTATED, "core_id": "B", "x_m": 50.0, **_THIN},
        {**SOUND, "core_id": "C", "x_m": 100.0, "diameter_mm": None},
    )
    result = audit(cores, shipped_rules(), AS_OF, 15.0)
    assert result.status.tolist() == ["reinstated", "flagged", "pending"]
    assert result.slugs.tolist() == ["", "pavement-thin", "diameter-missing"]


def test_a_row_that_another_is_counted_for_has_no_findings_of_its_own_but_on_records():
    """One register has had the core open for 40 days, the other has reinstated it."""
    left = {**SOUND, "opened_on": opened_days_ago(40), "same_core": 4, "same_row": 0, "is_copy": True, "copy_of": 2}
    taken = {**SOUND, **REINSTATED, "same_core": 4, "same_row": 1, "register": "south", "register_no": 1, "file_no": 1}
    result = audit(frame(left, taken), shipped_rules(), AS_OF, 15.0)
    assert result.slugs.tolist() == ["core-handed-over", "core-handed-over"]
    assert result.status.tolist() == ["pending", "reinstated"]
    # a row that repeats the counted one cell by cell has the same findings
    twice = {**left, "copy_of": None, "is_copy": False}, {**left, "copy_of": 1}
    assert ["open-too-long" in slugs for slugs in audit(frame(*twice), shipped_rules(), AS_OF, 15.0).slugs] == [
        True
    ] * 2


def test_slugs_are_sorted_and_findings_come_by_core_then_rule():
    cores = cores_like({"core_id": None, **_THIN, "opened_on": opened_days_ago(40)})
    result = audit(cores, shipped_rules(), AS_OF, 15.0)
    assert result.slugs[0] == "id-missing;open-too-long;pavement-thin"
    assert result.findings["rule"].tolist() == ["id-missing", "open-too-long", "pavement-thin"]
    assert result.findings["severity"].tolist() == ["check", "fail", "fail"]


def test_findings_name_the_row_and_the_core_and_hold_no_sentence():
    result = audit(cores_like(_THIN), _FEW, AS_OF, 15.0)
    assert result.findings.to_dict("list") == {
        "row": [1], "core_id": ["A-1"], "rule": ["pavement-thin"], "severity": ["fail"],
        "urgency": ["quality"],
    }  # fmt: skip
    assert result.wordings["pavement-thin"].values.loc[1, "depth_mm"] == 80.0
    assert list(result.wordings) == ["pavement-thin"]


def test_a_copy_has_its_findings_and_is_counted_in_no_rule():
    """A thin core, its copy, and a sound one that is reinstated."""
    thin = {**SOUND, **_THIN, "same_row": 7}
    cores = frame(thin, {**thin, "is_copy": True}, {**OTHER, **REINSTATED, "core_id": "C"})
    result = audit(cores, [bound_rule("pavement-thin"), bound_rule("open-too-long")], AS_OF, 15.0)
    assert result.findings["row"].tolist() == [1, 2]
    counts = result.rules.set_index("rule")[["assessed", "found", "not_assessed", "not_applicable"]]
    assert counts.loc["pavement-thin"].tolist() == [2, 1, 0, 0]
    assert counts.loc["open-too-long"].tolist() == [1, 0, 0, 1]
    assert result.thresholds["cores"].tolist() == [2] * len(result.thresholds)


def test_every_finding_has_its_wording():
    cores = cores_like({"core_id": None, **_THIN, "opened_on": opened_days_ago(40)})
    result = audit(cores, shipped_rules(), AS_OF, 15.0)
    for slug, row in zip(result.findings["rule"], result.findings["row"]):
        assert result.wordings[slug].templates.loc[row].str.len().gt(0).all()


@given(st.permutations(range(4)))
@settings(max_examples=4, deadline=None)
def test_the_order_of_the_rows_changes_no_core(order):
    changes = [_THIN, {"core_id": None}, {"opened_on": opened_days_ago(40)}, {**REINSTATED, "flush_mm": 9.0}]
    cores = frame(*({**SOUND, "x_m": 100.0 * place, **change} for place, change in enumerate(changes)))
    plain, moved = (audit(one, _FEW, AS_OF, 15.0) for one in (cores, cores.iloc[list(order)]))
    assert moved.slugs.sort_index().tolist() == plain.slugs.tolist()
    assert moved.status.sort_index().tolist() == plain.status.tolist()
    assert moved.rules.equals(plain.rules)


def test_the_counts_of_a_rule_add_up_to_the_cores():
    """One open core, two reinstated ones with and without a step, one whose reinstatement date cannot be read."""
    unknown = {**SOUND, "is_open": False, "reinstated_at_problem": "unreadable", "flush_mm": 9.0}
    back = {**SOUND, **REINSTATED}
    cores = frame(SOUND, {**back, "flush_mm": 9.0}, back, unknown)
    rules = audit(cores, [bound_rule("flush-out-of-tolerance")], AS_OF, 15.0).rules
    counts = rules[["found", "assessed", "not_assessed", "not_applicable"]]
    assert counts.to_numpy().tolist() == [[1, 1, 2, 1]]


def test_a_rule_without_data_for_any_core_is_a_check_that_did_not_run():
    result = audit(cores_like(REINSTATED), _FEW, AS_OF, 15.0)
    assert result.not_run == ["flush-out-of-tolerance"]
    # to two open cores it does not apply, and then it lacks nothing
    assert audit(cores_like({}), _FEW, AS_OF, 15.0).not_run == []


def test_two_findings_of_one_rule_about_one_core_are_refused():
    def twice(cores: pd.DataFrame) -> Findings:
        return find(pd.concat([cores, cores]), "Bad.", "Look.")

    made = Rule("twice", "tests", "Twice.", twice, (), (), 1, None, False, "all", (), False)
    with pytest.raises(ContractError, match="rule twice: two findings about one core"):
        audit(frame(SOUND), [BoundRule(made, "note", "record", "here", [])], AS_OF, 15.0)


def test_no_cores_are_audited_to_nothing():
    result = audit(frame(SOUND).iloc[:0], _FEW, AS_OF, 15.0)
    assert result.findings.empty
    assert result.status.empty
    assert result.rules["assessed"].tolist() == [0, 0, 0, 0]


def test_the_rule_book_says_what_a_rule_needs_by_the_names_of_the_programme_file():
    (row,) = rule_book([bound_rule("grout-short")])
    assert row == {
        "rule": "grout-short",
        "family": "placement",
        "title": "Too little grout was used to fill the kerf, pilot hole and bed.",
        "severity": "fail",
        "limits": "min share 100 %",
        "source": "common practice, no source: too little grout means lifting the core again",
        "needs": "bags_used, diameter_mm, depth_mm",
        "applies_to": "reinstated",
    }
    assert rule_book([bound_rule("dates-out-of-order")])[0]["needs"] == "dates"
    assert rule_book([bound_rule("id-missing")])[0]["needs"] == ""


def test_the_rule_book_is_in_the_order_of_the_families():
    families = [row["family"] for row in rule_book(shipped_rules())]
    assert families == sorted(families)
    assert len(families) == len(RULES)


def test_each_threshold_is_listed_with_the_cores_that_it_applies_to():
    where = [{"surface": "concrete", "rules": {"flush-out-of-tolerance": {"max_step": "3 mm"}}, "source": "the town"}]
    rules = bind_rules(load_catalogue({}, "test", Thresholds(where=where), "Quay 2026"), "test")
    flush = [one for one in rules if one.rule.slug == "flush-out-of-tolerance"]
    cores = frame(SOUND, {**OTHER, "surface": "concrete"}, {**OTHER, "core_id": "A-3", "surface": None})
    assert audit(cores, flush, AS_OF, 15.0).thresholds.drop(columns="rule").to_numpy().tolist() == [
        ["max_step", "3 mm", "surface concrete", "programme", "set by Quay 2026: the town", 1, "programme"],
        ["max_step", "5 mm", "everywhere", "shipped", "our default", 2, "our default"],
    ]


def test_a_threshold_that_applies_to_no_core_is_left_out_unless_it_applies_everywhere():
    where = [{"surface": "concrete", "rules": {"flush-out-of-tolerance": {"max_step": "3 mm"}}}]
    rules = bind_rules(load_catalogue({}, "test", Thresholds(where=where)), "test")
    flush = [one for one in rules if one.rule.slug == "flush-out-of-tolerance"]
    assert audit(frame(SOUND), flush, AS_OF, 15.0).thresholds["value"].tolist() == ["5 mm"]


def test_working_days_leave_out_the_holidays_of_the_region():
    """From Wednesday 2 to Friday 18 September 2026 are 12 working days, 11 without Labour Day; 10 are allowed."""
    sent = {**SOUND, **REINSTATED, "reinstated_at": "2026-09-02", "notice_sent_on": "2026-09-17", "notice_known": "yes"}
    late = [bound_rule("notice-late")]
    assert len(audit(frame(sent), late, AS_OF, 15.0).findings) == 1
    assert audit(frame(sent), late, AS_OF, 15.0, Calendar("CA-ON")).findings.empty


def test_a_threshold_of_the_programme_takes_the_place_of_ours():
    rules = bind_rules(load_catalogue({"rules": {"flush-out-of-tolerance": {"max_step": "4 mm"}}}, "test"), "test")
    flush = [one for one in rules if one.rule.slug == "flush-out-of-tolerance"]
    found = audit(frame(SOUND, OTHER), flush, AS_OF, 15.0).thresholds
    assert found[["value", "where", "cores"]].to_numpy().tolist() == [["4 mm", "everywhere", 2]]
