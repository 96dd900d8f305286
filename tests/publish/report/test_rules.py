"""The rules: counts and shares, examples, and what could not be checked."""

import re
from dataclasses import replace

import pandas as pd
import pytest
from markupsafe import escape

from pipeline.contracts import SEVERITIES, URGENCIES
from pipeline.publish.report.names import core_name
from pipeline.publish.report.report import draw_report
from pipeline.publish.report.rules import rules_and_gaps
from pipeline.publish.words import words_of
from tests.publish.report.pages import table_of, text_of

_WORDS = words_of("en")


@pytest.fixture(scope="module")
def page(demo):
    return draw_report(demo)


def _with(demo, **parts):
    return replace(demo, audit=replace(demo.audit, **parts))


def test_every_rule_is_listed_with_its_label_its_counts_and_its_exact_interval(demo, page):
    for rule in rules_and_gaps(demo, _WORDS)["rules_found"] + rules_and_gaps(demo, _WORDS)["rules_silent"]:
        table = table_of(page, "rules-found" if rule["n"] else "rules-silent")
        row = re.search(rf"<tr><th [^>]*>[^\n]*<code>{rule['rule']}</code>.*?</tr>", table)[0]
        counts = re.findall(r'<td class="n">(\d+)</td>', row)
        found = [text_of(rule["found"])] if rule["n"] else []
        assert counts == [
            *found, rule["assessed"], rule["at_limit"], rule["not_assessed"], rule["not_applicable"],
        ]  # fmt: skip
        assert f"<b>{_WORDS.rule_label(rule['rule'])}</b>" in row


def test_counts_are_those_of_the_rule_book(demo):
    shown = {rule["rule"]: rule for rule in rules_and_gaps(demo, _WORDS)["rules_found"]}
    for rule in demo.audit.rules.to_dict("records"):
        if rule["found"]:
            mine = shown[rule["rule"]]
            assert (mine["n"], mine["assessed"]) == (rule["found"], f"{rule['assessed']:,}")
            assert mine["share"] == f"{rule['found'] / rule['assessed']:.1%}"


def test_rules_and_examples_are_in_order_of_urgency_then_severity_then_cores_found(demo):
    shown = rules_and_gaps(demo, _WORDS)
    for rules in (shown["rules_found"], shown["rules_silent"], shown["examples"]):
        order = [
            (URGENCIES.index(rule["urgency"]), SEVERITIES.index(rule["severity"]), -rule["n"], rule["rule"])
            for rule in rules
        ]
        assert order == sorted(order)


def test_rules_are_grouped_under_what_their_urgency_means(page):
    """Each heading stands once in the table, above its rules and below those of the urgency before."""
    table = table_of(page, "rules-found")
    headings = [str(_WORDS.say(f"urgency_means.{name}")) for name in URGENCIES]
    at = [table.index(heading) for heading in headings]
    assert at == sorted(at)
    assert [table.count(heading) for heading in headings] == [1, 1, 1, 1]
    assert at[0] < table.index("flush-out-of-tolerance") < at[1] < table.index("permit-expired") < at[2]


def test_accepted_findings_are_no_examples_and_that_is_said(demo):
    """The three steps are accepted; of the four rules on hazards that are left, none is about a step."""
    findings = demo.audit.findings
    is_step = findings["rule"].eq("flush-out-of-tolerance")
    decided = findings.assign(decision="", decision_standing="").assign(
        decision=lambda every: every["decision"].mask(is_step, "accept"),
        decision_standing=lambda every: every["decision_standing"].mask(is_step, "holds"),
    )
    result = _with(demo, findings=decided)
    shown = rules_and_gaps(result, _WORDS)
    assert "flush-out-of-tolerance" not in {rule["rule"] for rule in shown["examples"]}
    assert "flush-out-of-tolerance" in {rule["rule"] for rule in shown["rules_found"]}
    assert "3 accepted findings are not among them." in draw_report(result)


def test_a_rule_without_findings_reports_how_high_its_share_may_still_be(demo):
    """None of 100: the share is at most 1 less the hundredth root of 0.025, which is 3.6 %. None of 3 is too few."""
    rules = demo.audit.rules.assign(found=0, assessed=100, not_assessed=0, at_limit=0)
    rules.loc[rules["rule"].eq("grout-short"), "assessed"] = 3
    shown = rules_and_gaps(_with(demo, rules=rules, findings=demo.audit.findings.iloc[:0]), _WORDS)["rules_silent"]
    most = {text_of(rule["most"]) for rule in shown if rule["rule"] != "grout-short"}
    assert most == {"at most 3.6%"}
    assert [rule["rule"] for rule in shown if rule["is_few"]] == ["grout-short"]


def test_cores_at_the_limit_are_counted_explained_and_widen_the_interval_upwards(demo):
    """None of 100 found and 100 at the limit: all may be breaches. One rule of ten at the limit is one sentence."""
    rules = demo.audit.rules.assign(found=0, assessed=100, not_assessed=0, at_limit=0)
    rules.loc[rules["rule"].eq("bedding-off"), "at_limit"] = 100
    changed = _with(demo, rules=rules, findings=demo.audit.findings.iloc[:0])
    shown = {rule["rule"]: rule for rule in rules_and_gaps(changed, _WORDS)["rules_silent"]}
    assert text_of(shown["bedding-off"]["most"]) == "at most 100.0%"
    assert shown["bedding-off"]["at_limit"] == "100"
    page = draw_report(changed)
    assert "In 100 checks a value lies at the limit and cannot be told" in page
    assert "cannot be told:" not in draw_report(
        _with(demo, rules=rules.assign(at_limit=0), findings=changed.audit.findings)
    ).replace("At the limit: cannot be told", "").replace("At the limit, cannot be told", "")


def test_a_rule_that_applies_to_no_core_does_not_lack_data(demo):
    """Four rules: one found something, one nothing, one lacked its data for every core, one applies to no core."""
    rules = demo.audit.rules.head(4).assign(found=[2, 0, 0, 0], assessed=[9, 9, 0, 0], not_assessed=[1, 0, 4, 0])
    first, silent, lacking, inapplicable = rules["rule"]
    findings = demo.audit.findings.iloc[:2].assign(rule=first, severity=rules["severity"].iloc[0])
    shown = rules_and_gaps(_with(demo, rules=rules, findings=findings), _WORDS)
    assert (shown["not_run_rules"], shown["inapplicable"]) == ([lacking], [inapplicable])
    assert [rule["rule"] for rule in shown["rules_silent"]] == [silent]
    assert (shown["findings_total"], shown["rules_run"], len(shown["rules_found"])) == (2, 2, 1)
    page = draw_report(_with(demo, rules=rules, findings=findings))
    label = _WORDS.rule(lacking)
    assert "1 rule not run on any core: no data supplied." in page
    assert f"1 rule not run, no data supplied: <bdi>{label}</bdi></p>" in page
    assert f"1 rule does not apply to any of these cores: <bdi>{_WORDS.rule(inapplicable)}</bdi></p>" in page
    assert "2 findings from 1 of the 2 rules run." in page


def test_where_every_rule_applies_and_has_its_data_nothing_is_said_of_it(demo):
    rules = demo.audit.rules.assign(assessed=9, not_assessed=0)
    page = draw_report(_with(demo, rules=rules, evidence=demo.audit.evidence.iloc[:0]))
    assert "no data supplied" not in page
    assert "any of these cores" not in page
    assert "Every rule had the data it needs." in page


def test_a_failure_has_three_examples_a_check_one_and_a_note_none(demo):
    shown = rules_and_gaps(demo, _WORDS)["examples"]
    assert {rule["severity"] for rule in shown} == {"fail", "check"}
    for rule in shown:
        assert len(rule["rows"]) == min(rule["n"], 3 if rule["severity"] == "fail" else 1)
        first = demo.audit.findings[demo.audit.findings["rule"].eq(rule["rule"])].iloc[0]
        assert rule["rows"][0]["row"] == first["row"]
        assert rule["rows"][0]["message"] == _WORDS.own(first["message"])


def test_what_could_not_be_checked_is_listed(demo, page):
    unplaced = demo.table[demo.cores["x_m"].isna()]
    table = table_of(page, "unplaced")
    assert [int(row) for row in re.findall(r">row (\d+)<", table)] == unplaced["row"].tolist()
    reasons = demo.audit.findings[demo.audit.findings["rule"].eq("position-zero")]
    assert str(escape(reasons["message"].iloc[0])) in table
    ordered = re.findall(r'<td class="n">(\d+)</td>', table_of(page, "not-ordered"))
    assert sum(map(int, ordered)) == demo.orders.left_out["cores"].sum() == 20
    ids = "; ".join(demo.orders.left_out["core_ids"]).split("; ")
    assert len(ids) == 20
    assert all(str(_WORDS.own(core)) in table_of(page, "not-ordered") for core in ids)
    for notice in demo.inputs.notices:
        assert str(escape(notice)) in page


def test_a_core_that_is_not_ordered_is_linked_by_all_of_its_id_and_not_without_one(demo):
    left_out = pd.DataFrame({"reason": "surface unknown", "core_id": ["N; 1", None]})
    (row,) = rules_and_gaps(replace(demo, orders=demo.orders._replace(cores_left_out=left_out)), _WORDS)["not_ordered"]
    assert row["cores"] == "2"
    assert row["ids"] == [core_name("N; 1", _WORDS), "(no id)"]


def test_the_first_unplaced_cores_and_notices_are_shown_and_the_rest_counted(demo):
    """20 cores off the map and 43 notices: 15 and 40 are shown."""
    cores = demo.cores.assign(x_m=demo.cores["x_m"].mask(demo.cores.index < demo.cores.index[20]))
    many = replace(demo, cores=cores, inputs=replace(demo.inputs, notices=[f"n{number}" for number in range(43)]))
    shown = rules_and_gaps(many, _WORDS)
    assert len(shown["unplaced"]) == 15
    assert (len(shown["notices"]), shown["notices_left"]) == (40, 3)
    assert f"The first 15 of {cores['x_m'].isna().sum()} cores not on the map" in draw_report(many)


def test_data_that_would_let_no_core_be_assessed_is_not_asked_for(demo):
    evidence = pd.DataFrame(
        {
            "input": ["crew", "water_l"], "cores": [0, 7], "assessments": [0, 9], "cores_with_others": [3, 1],
            "rules": ["a-b", ", ".join(f"rule-{letter}" for letter in "abcdefg")],
            "not_kept": [3, 6], "left_empty": [0, 2], "registers": ["north", "north, south"],
        }
    )  # fmt: skip
    (row,) = rules_and_gaps(_with(demo, evidence=evidence), _WORDS)["evidence"]
    assert (row["input"], text_of(row["label"])) == ("water_l", "Water used")
    # five of the seven rules by their labels
    reasons = ["no column in north, south (6 cores)", "empty or unreadable (2 cores)"]
    assert [text_of(reason) for reason in row["reasons"]] == reasons
    assert text_of(row["rules"]) == "Rule a , Rule b , Rule c , Rule d , Rule e and 2 more"


def test_more_data_than_the_table_shows_is_counted(demo):
    evidence = pd.DataFrame(
        {
            "input": [f"i{n}" for n in range(14)], "cores": 1, "assessments": 1, "cores_with_others": 0, "rules": "a",
            "not_kept": 1, "left_empty": 0, "registers": "north",
        }
    )  # fmt: skip
    shown = rules_and_gaps(_with(demo, evidence=evidence), _WORDS)
    assert (len(shown["evidence"]), shown["evidence_left"]) == (12, 2)
