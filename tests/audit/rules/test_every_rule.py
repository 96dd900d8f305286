"""Every rule has its cases, in the test file of its family, and keeps to them."""

import importlib
import re

import pytest

from pipeline.audit import audit
from pipeline.audit.registry import RULES
from pipeline.contracts import REGISTER_COLUMNS
from tests.audit.frames import AS_OF, REINSTATED, SOUND, frame
from tests.audit.rules.cases import apply_rule, bound_rule, cores_like, is_at_limit, sentence, shipped_rules

_FAMILIES = sorted({rule.family for rule in RULES.values()})
_CASES_BY_FAMILY = {family: importlib.import_module(f"tests.audit.rules.test_{family}").CASES for family in _FAMILIES}
CASES = {slug: case for cases in _CASES_BY_FAMILY.values() for slug, case in cases.items()}
_STATES = {
    "open": {"is_open": True, "reinstated_at": None},
    "reinstated": REINSTATED,
    "unknown": {
        "is_open": False,
        "reinstated_at": None,
        "reinstated_at_problem": "unreadable",
        "reinstated_at_text": "?",
    },
}
# the columns that say how a value that a limit is compared with was written
_RANGES = {column.step_name for column in REGISTER_COLUMNS if column.kind == "number"} | {
    "grout_used_low_l", "grout_used_high_l", "water_ratio_low", "water_ratio_high", "reopened_within_min",
}  # fmt: skip
# what only makes sense for a core that has been reinstated, and for one that has not
_FOR_REINSTATED = r"\b(lift|regrout|reset|core may stay|shade used|grout used)\b"
_FOR_OPEN = r"\b(before \w+ing|reinstate|ordered|ordering|mix\w*|do not reuse|plate)\b"
_FOR_EITHER = r"\bif\b|\bwhether\b"


def test_every_rule_has_its_cases_in_the_test_file_of_its_family():
    for family, cases in _CASES_BY_FAMILY.items():
        assert set(cases) == {slug for slug, rule in RULES.items() if rule.family == family}, family
    assert {bound.rule.slug for bound in shipped_rules()} == set(RULES)


@pytest.mark.parametrize("slug", RULES)
def test_a_rule_has_a_case_on_its_limit_and_one_that_it_cannot_assess(slug):
    rule, case = RULES[slug], CASES[slug]
    assert bool(rule.needs or rule.needs_any) == (case.missing is not None)
    assert rule.limits is None or case.on_limit is not None


@pytest.mark.parametrize("slug", CASES)
def test_a_breach_is_found_and_its_sentence_says_what_to_do(slug):
    assert sentence(slug, CASES[slug].breach) == CASES[slug].says


@pytest.mark.parametrize("slug", CASES)
def test_what_passes_is_not_found(slug):
    assert apply_rule(slug, cores_like(CASES[slug].passes)) == (None, True)


@pytest.mark.parametrize("slug", [slug for slug, case in CASES.items() if case.on_limit is not None])
def test_the_limit_itself_passes(slug):
    assert apply_rule(slug, cores_like(CASES[slug].on_limit)) == (None, True)


@pytest.mark.parametrize("slug", RULES)
def test_a_rule_that_reads_how_a_value_was_written_has_a_case_that_it_cannot_tell(slug):
    reads = {name for name in RULES[slug].columns if name in _RANGES}
    assert bool(reads) == (CASES[slug].cannot_tell is not None)


@pytest.mark.parametrize("slug", [slug for slug, case in CASES.items() if case.cannot_tell is not None])
def test_a_core_that_some_values_written_so_would_breach_and_some_not_is_at_the_limit_and_not_found(slug):
    cores = cores_like(CASES[slug].cannot_tell)
    assert is_at_limit(slug, cores)
    result = audit(cores, [bound_rule(slug)], AS_OF, 15.0)
    counts = result.rules.set_index("rule").loc[slug]
    assert (counts["at_limit"], counts["found"]) == (1, 0)
    assert slug not in result.slugs.iloc[0]


@pytest.mark.parametrize("slug", [slug for slug, case in CASES.items() if case.missing is not None])
def test_a_core_without_the_value_is_counted_as_not_assessed(slug):
    assert apply_rule(slug, cores_like(CASES[slug].missing)) == (None, False)


@pytest.mark.parametrize("slug", RULES)
def test_the_remedy_is_one_for_the_state_that_the_core_is_in(slug):
    applies_to = RULES[slug].applies_to
    for state, cells in _STATES.items() if applies_to == "all" else [(applies_to, {})]:
        wording, _ = apply_rule(slug, cores_like({**CASES[slug].breach, **cells}))
        remedy = wording.templates.loc[1, "remedy"]
        assert remedy.endswith(".")
        wrong = {"open": [_FOR_REINSTATED], "reinstated": [_FOR_OPEN], "unknown": [_FOR_OPEN, _FOR_REINSTATED]}[state]
        if state == "unknown" and re.search(_FOR_EITHER, remedy):
            continue
        for words in wrong:
            assert not re.search(words, remedy.lower()), f"{slug}, {state}: {remedy}"


@pytest.mark.parametrize("slug", RULES)
def test_a_title_is_one_sentence_and_names_no_column(slug):
    title = RULES[slug].title
    assert title.endswith(".")
    assert title[0].isupper()
    assert "_" not in title


@pytest.mark.parametrize("slug", [slug for slug, rule in RULES.items() if rule.applies_to != "all"])
def test_a_core_to_which_a_rule_does_not_apply_is_neither_found_nor_called_not_assessed(slug):
    other = _STATES["open" if RULES[slug].applies_to == "reinstated" else "reinstated"]
    cores = cores_like({**CASES[slug].breach, **other})
    assert apply_rule(slug, cores) == (None, False)
    assert not bound_rule(slug).applies(cores).iloc[0]


@pytest.mark.parametrize("slug", [slug for slug, rule in RULES.items() if rule.applies_to != "all"])
def test_a_core_of_unknown_state_is_not_assessed_by_a_rule_for_one_state(slug):
    cores = cores_like({**CASES[slug].breach, **_STATES["unknown"]})
    assert apply_rule(slug, cores) == (None, False)
    assert bound_rule(slug).applies(cores).iloc[0]


def test_a_sound_core_has_no_finding():
    result = audit(frame(SOUND, {**SOUND, **REINSTATED, "core_id": "A-2", "x_m": 100.0}), shipped_rules(), AS_OF, 15.0)
    assert result.findings.empty
    assert result.status.tolist() == ["pending", "reinstated"]
    assert result.slugs.tolist() == ["", ""]
