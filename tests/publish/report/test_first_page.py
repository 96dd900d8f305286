"""The first page: the counts and how they add up, and what is not shown there."""

import re
from dataclasses import replace

import pandas as pd
import pytest

from pipeline.publish.report.first_page import first_page
from pipeline.publish.report.report import draw_report
from pipeline.publish.words import words_of
from tests.publish.report.pages import first_page_of, text_of

_WORDS = words_of("en")


@pytest.fixture(scope="module")
def page(demo):
    return draw_report(demo)


@pytest.fixture(scope="module")
def first(page):
    return first_page_of(page)


def test_it_starts_with_what_can_hurt_someone_and_asks_its_questions_in_order(first):
    headings = [
        "1. What can hurt someone now", "2. What is overdue, and by how long", "3. What must be lifted and reinstated again",
        "4. What must be corrected in the register",
    ]  # fmt: skip
    body = first.split("<h1>")[1]
    at = [body.index(f"<h2>{heading}</h2>") for heading in headings]
    assert at == sorted(at)
    assert body.index("can hurt someone now") == min(body.index(word) for word in ("can hurt", ">overdue<", "flagged"))


def test_the_groups_add_up_to_the_cores_with_something_to_act_on(demo, first):
    """Counted a second way: the cores of which any failure or check is known, by the urgency in their table."""
    urgency = demo.counted_table["urgency"].value_counts()
    numbers = [int(urgency[name]) for name in ("hazard", "overdue", "quality", "record")]
    assert [group["n"] for group in first_page(demo, _WORDS)["groups"]] == numbers
    total = f"{' + '.join(map(str, numbers))} = {sum(numbers)}. The other {398 - sum(numbers)} of 398 cores"
    assert total in first


def test_the_flagged_cores_of_the_groups_add_up_too(demo):
    shown = first_page(demo, _WORDS)
    flagged = [group["flagged"] for group in shown["groups"]]
    assert sum(flagged) == demo.account["flagged"]
    assert [text_of(part) for part in shown["flagged_by_need"]] == [
        f"{sum(flagged[:3])} to put right on site or with the road authority", f"{flagged[3]} in the register only",
    ]  # fmt: skip


def test_status_and_state_are_both_counted_and_told_apart(demo, page, first):
    for name in ("flagged", "pending", "reinstated"):
        assert f"<span>{100 * demo.account[name] / 398:.1f}%</span>" in page
    states = demo.counted_cores["state"].value_counts()
    assert f"State: {states['open']} open with no cover recorded, {states['plated']} plated" in first
    assert "2 not known" in first
    assert f"Status: {demo.account['flagged']} Flagged" in first


def test_accepted_findings_are_counted_and_their_cores_leave_the_groups(demo, first):
    """All hazards are accepted: nothing is found, and cores of which nothing is left are among the others."""
    assert "accepted" not in first
    findings = demo.audit.findings
    is_hazard = findings["urgency"].eq("hazard")
    standing = pd.Series("", findings.index, dtype="str").mask(is_hazard, "holds")
    decided = findings.assign(decision=standing.mask(is_hazard, "accept"), decision_standing=standing)
    result = replace(demo, audit=replace(demo.audit, findings=decided))
    shown = first_page_of(draw_report(result))
    assert f"{is_hazard.sum()} accepted findings are not listed here: see Decisions." in shown
    hazard = first_page(result, _WORDS)["groups"][0]
    assert (hazard["n"], hazard["cores"]) == (0, [])
    out = int(demo.counted_cores["urgency"].eq("hazard").sum())
    assert re.search(rf'<li class="hazard"><b><a[^>]*>0</a></b>.*; {out} more accepted', draw_report(result))
    assert "<p>Nothing found.</p>" in shown
    # its status is what it was
    assert result.account == demo.account


def test_a_decision_that_no_longer_holds_leaves_a_finding_in_the_list(demo):
    decided = demo.audit.findings.assign(decision="accept", decision_standing="expired")
    shown = first_page(replace(demo, audit=replace(demo.audit, findings=decided)), _WORDS)
    assert shown["accepted"] == 0
    assert [group["n"] for group in shown["groups"]] == [group["n"] for group in first_page(demo, _WORDS)["groups"]]


def test_checks_not_run_are_a_share_of_those_that_apply(demo):
    """30 of 120 lacked data: a quarter. What does not apply to a core is no part of it."""
    rules = demo.audit.rules.head(2).assign(assessed=[90, 0], not_assessed=[10, 20], found=0)
    shown = first_page(replace(demo, audit=replace(demo.audit, rules=rules)), _WORDS)["not_run"]
    assert shown == {"checks": 30, "of": 120, "share": "25.0%", "rules": 1}


def test_a_filter_that_excludes_rows_is_reported(demo, page):
    assert "programme's filter excludes" not in page
    register = replace(demo.inputs.register, rows_in_file=403)
    filtered = draw_report(replace(demo, inputs=replace(demo.inputs, register=register)))
    assert "filter excludes 3 of 403 rows in the register." in filtered


def test_rows_that_repeat_a_core_and_rows_set_aside_are_reported(demo, page):
    # the demo writes two rows twice
    assert "2 of 400 rows repeat a core that is counted in another row." in page
    assert "was set aside" not in page
    total = pd.DataFrame({"register": ["cores"], "file": "cores.csv", "place": 9, "reason": "a total", "text": "Total"})
    register = replace(demo.inputs.register, set_aside=total, rows_in_file=401)
    shown = draw_report(replace(demo, inputs=replace(demo.inputs, register=register)))
    assert "1 row holds no core and was set aside: see <code>set_aside.csv</code>." in shown
    assert "programme's filter excludes" not in shown


def test_a_register_without_a_reinstatement_date_is_named_with_its_number_of_cores(demo):
    """North has the first 100 rows, none of them a copy, and keeps no date of reinstatement."""
    assert not demo.cores["is_copy"].head(100).any()
    names = pd.Series("south", demo.cores.index, dtype="str").mask(demo.cores["row"].le(100), "north")
    kept = {"reinstated_at": frozenset({"south"})}
    inputs = replace(demo.inputs, register=replace(demo.inputs.register, kept=kept))
    (sentence,) = first_page(replace(demo, cores=demo.cores.assign(register=names), inputs=inputs), _WORDS)[
        "no_reinstatement"
    ]
    assert text_of(sentence) == (
        "Register north has no column for the reinstatement date: its 100 cores count as pending unless flagged."
    )
    assert first_page(demo, _WORDS)["no_reinstatement"] == []
