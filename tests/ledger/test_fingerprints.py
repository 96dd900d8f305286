"""Tests of what a finding is known by from run to run."""

import dataclasses
import datetime as dt
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.audit import audit
from pipeline.audit.findings import Item, choose, find
from pipeline.ledger import follow
from pipeline.ledger.fingerprints import evidence_marks, fingerprints, with_fingerprints
from pipeline.publish.sentences import with_sentences
from pipeline.publish.words import words_of
from pipeline.run import rules_of
from tests.audit.rules.cases import bound_rule

_DEMO = Path(__file__).parents[2] / "sample_data" / "programme.toml"


def _prints(*findings):
    """The fingerprints of findings, each given as rule, core id and partner."""
    return fingerprints(*(pd.Series(list(cells), dtype="str") for cells in zip(*findings))).tolist()


def _marks(found, moving=()):
    rows = pd.Series(range(1, len(found.templates) + 1), found.templates.index)
    return evidence_marks(found.worded(pd.Series("open", rows.index), rows), moving).tolist()


def _measured(*values, **more):
    return find(pd.DataFrame({"value_mm": values}), "{value_mm} mm.", "Look.", **more)


def test_a_fingerprint_is_a_letter_and_sixteen_hexadecimal_digits_so_that_no_spreadsheet_takes_it_for_a_number():
    # blake2b of eight bytes over rule, id and partner, by coreutils: printf 'off-network\x1fhv-1\x1f' | b2sum -l 64
    assert _prints(("off-network", "HV-1", "")) == ["f49679d13fcfa6232"]


@pytest.mark.parametrize("same", ["hv-1", "HV - 1", " Hv-1 "])
def test_case_and_spaces_of_an_id_do_not_matter(same):
    one, other = _prints(("cores-overlap", "HV-1", "HV-2"), ("cores-overlap", same, "hv-2 "))
    assert one == other


def test_the_two_findings_about_a_pair_have_two_fingerprints():
    assert len({*_prints(("cores-overlap", "A", "B"), ("cores-overlap", "B", "A"), ("cores-overlap", "A", "C"))}) == 3


def test_another_rule_is_another_finding():
    assert len({*_prints(("cores-overlap", "A", "B"), ("cores-too-close", "A", "B"))}) == 2


@pytest.mark.parametrize("core_id", [None, "", "  "])
def test_a_core_without_an_id_has_no_fingerprint(core_id):
    assert pd.isna(_prints(("id-missing", core_id, ""))).all()


def test_two_rows_that_share_an_id_share_their_fingerprints():
    assert len({*_prints(("id-duplicated", "A", ""), ("id-duplicated", "a", ""))}) == 1


@given(st.lists(st.tuples(st.sampled_from("rs"), st.text("ab", min_size=1), st.text("ab")), unique=True, min_size=2))
def test_findings_that_differ_have_fingerprints_that_differ(findings):
    assert len({*_prints(*findings)}) == len(findings)


def test_the_table_of_findings_gets_the_partner_that_the_rule_declares():
    cores = pd.DataFrame({"other_id": ["B", None]})
    found = find(cores, choose(cores["other_id"].notna(), "By {other_id}.", "By another."), "Look.", keeps=["other_id"])
    wording = found.worded(pd.Series("open", cores.index), pd.Series([7, 9]))
    findings = pd.DataFrame({"row": [7, 9], "core_id": ["A", "A"], "rule": "cores-overlap"})
    table = with_fingerprints(findings, {"cores-overlap": wording}, [bound_rule("cores-overlap")])
    assert table["fingerprint"].tolist() == _prints(("cores-overlap", "A", "B"), ("cores-overlap", "A", ""))
    assert table["evidence_mark"].nunique() == 2


def test_a_mark_changes_with_a_value_and_not_with_the_sentence():
    one, other = _marks(_measured(12.0, 13.0))
    assert one != other
    reworded = find(pd.DataFrame({"value_mm": [12.0]}), "It is {value_mm:.1f} mm off.", "Look again.")
    assert _marks(reworded) == [one]


def test_a_mark_ignores_what_only_a_tenth_decimal_tells_apart():
    assert len({*_marks(_measured(0.1 + 0.2, 0.3, 0.3000000001))}) == 1
    assert len({*_marks(_measured(-0.0, 0.0, 1e-9))}) == 1
    assert len({*_marks(_measured(457.2, 457.4))}) == 2


def test_a_limit_is_part_of_the_evidence():
    marks = [
        _marks(find(pd.DataFrame({"x": [1.0]}), "{x:.0f vs limit_mm}.", "Look.", limit_mm=limit))
        for limit in (2.0, 3.0)
    ]
    assert marks[0] != marks[1]


def test_what_moves_by_itself_is_no_evidence():
    weeks = [
        find(pd.DataFrame({"days": [days]}), "Open for {days:day}, since {on}.", "Look.", on="3 May")
        for days in (7, 14)
    ]
    assert _marks(weeks[0], ["days"]) == _marks(weeks[1], ["days"])
    assert _marks(weeks[0]) != _marks(weeks[1])


def test_a_mark_does_not_depend_on_what_the_other_findings_of_the_rule_name():
    cores = pd.DataFrame({"a": ["x", "x"], "b": ["p", "q"]})
    alone = find(cores.iloc[:1], "{a}.", "Look.")
    beside = find(cores, pd.Series(["{a}.", "{a} and {b}."]), "Look.")
    assert _marks(beside)[0] == _marks(alone)[0]


def test_what_is_kept_is_evidence_although_no_sentence_names_it():
    marks = [_marks(find(pd.DataFrame({"on": [day]}), "Late.", "Look.", keeps=["on"])) for day in ("3 May", "4 May")]
    assert marks[0] != marks[1]


def test_cells_that_are_listed_are_evidence_in_full():
    start = "x" * 200
    marks = [
        _marks(
            find(
                pd.DataFrame(index=[0]), "Unreadable: {cells}.", "Look.",
                {"cells": [Item("{text}", pd.DataFrame({"text": [start + end]}), {"text": "opened_on_text"})]},
            )
        )
        for end in "ab"
    ]  # fmt: skip
    assert marks[0] != marks[1]


@pytest.fixture(scope="module")
def a_week_later(demo):
    """The demo's findings, and with ``_later`` those of a week later, of what is found on both days."""
    settings, later = demo.settings, demo.as_of + dt.timedelta(days=7)
    _, rules = rules_of(settings, _DEMO)
    facts = demo.cores.drop(columns=["status", "findings", "urgency"])
    # the stages before the audit know no day
    audited = audit(
        facts, rules, later, settings.matching.max_distance_m, settings.programme.calendar, demo.inputs.register.kept
    )
    found, _ = follow(audited, facts, rules, settings.owners, later)
    result = with_sentences(replace(demo, as_of=later, audit=replace(audited, findings=found)), words_of("en"))
    return demo.audit.findings.merge(
        result.audit.findings, on=["row", "rule"], suffixes=("", "_later"), validate="one_to_one"
    )


def test_a_week_later_what_is_still_found_has_its_fingerprint_and_mark(demo, a_week_later):
    assert len(a_week_later) > 0.9 * len(demo.audit.findings)
    assert a_week_later["fingerprint"].equals(a_week_later["fingerprint_later"])
    moved = a_week_later[a_week_later["evidence_mark"].ne(a_week_later["evidence_mark_later"])]
    assert moved["rule"].unique().tolist() == []


def test_the_figures_that_move_are_those_that_rules_declare(a_week_later):
    """So that the test before this one is not passed by a demo in which nothing moves."""
    moved = a_week_later[a_week_later["evidence"].ne(a_week_later["evidence_later"])]
    assert set(moved["rule"]) >= {"open-too-long", "plated-too-long", "notice-late", "date-in-future"}
    assert all(bound_rule(slug).rule.moving for slug in set(moved["rule"]))


def test_the_order_of_the_rows_changes_no_fingerprint_and_no_mark(demo):
    audit = demo.audit
    columns = ["row", "core_id", "rule"]
    back = audit.findings[columns].iloc[::-1]
    rules = [bound_rule(slug) for slug in audit.wordings]
    again = with_fingerprints(back, audit.wordings, rules).sort_index()
    assert again[["fingerprint", "evidence_mark"]].equals(audit.findings[["fingerprint", "evidence_mark"]])


def test_only_cores_without_an_id_are_without_a_fingerprint(demo):
    found = demo.audit.findings
    assert found["fingerprint"].isna().equals(found["core_id"].isna())
    assert found["evidence_mark"].notna().all()


def test_wordings_of_rules_that_found_nothing_need_not_be_there():
    nothing = pd.DataFrame({"row": [], "core_id": [], "rule": []}).astype(
        {"row": "int64", "core_id": "str", "rule": "str"}
    )
    table = with_fingerprints(nothing, {}, [bound_rule("cores-overlap")])
    assert table.columns.tolist() == ["row", "core_id", "rule", "fingerprint", "evidence_mark"]


def test_every_rule_declares_only_values_that_its_findings_have(demo):
    for slug, wording in demo.audit.wordings.items():
        rule = dataclasses.asdict(bound_rule(slug).rule)
        names = {*map(str, wording.values.columns)}
        assert names >= {*rule["moving"]} - {"other_register_file"}, slug
        assert names >= {*filter(None, [rule["partner"]])}, slug
