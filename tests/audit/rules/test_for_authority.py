"""What each rule's remedies become for the road authority, which is not asked to do the utility's work."""

import ast
import re
from pathlib import Path

import pandas as pd
import pytest

from pipeline.audit import rules
from pipeline.audit.findings import STATES, find
from pipeline.audit.for_authority import _OWN, authority_text, for_authority
from pipeline.audit.registry import RULES, AuditContext
from pipeline.errors import ContractError
from tests.audit.frames import AS_OF
from tests.audit.rules.cases import bound_rule, cores_like
from tests.audit.rules.test_every_rule import CASES

_TASK = r"The utility (must|needs|needed) [a-z]"
# what the reader may do, and what has to be done by whoever does it
_OTHERWISE = r"You can [a-z]|No action needed\.$|The core must (still )?be inspected|If .*, the utility must [a-z]"
_FILES = sorted(Path(rules.__file__).parent.glob("*.py"))


def _turned(slug):
    """The remedies of a rule for the core of its case, in every state, as the road authority reads them."""
    bound, cores = bound_rule(slug), cores_like(CASES[slug].breach)
    found = bound.find(cores, bound.assessed(cores), AuditContext(pd.Timestamp(AS_OF), 15.0))
    return {text for state in STATES for text in found.templates[state].map(authority_text)}


def _reads_well(text):
    assert re.match(f"{_TASK}|{_OTHERWISE}", text), text
    assert text.endswith("."), text
    assert "authority" not in text
    # "its position" would be the utility's
    assert " its position" not in text


@pytest.mark.parametrize("slug", RULES)
def test_every_remedy_is_the_task_of_the_utility_or_a_choice_of_the_reader(slug):
    for text in _turned(slug):
        _reads_well(text)


def test_every_text_that_a_rule_declares_reads_well_and_names_no_value_that_its_remedy_lacks():
    sentences = {remedy: text for remedy, text in _OWN.items() if remedy.endswith(".")}
    assert len(sentences) > 20
    for remedy, text in sentences.items():
        _reads_well(text)
        assert set(re.findall(r"{\w+", text)) <= set(re.findall(r"{\w+", remedy))


@pytest.mark.parametrize("file", _FILES, ids=lambda file: file.stem)
def test_no_sentence_of_a_rule_names_the_road_authority_or_a_setting_without_a_text_for_it(file):
    texts = [node.value for node in ast.walk(ast.parse(file.read_text("utf-8"))) if isinstance(node, ast.Constant)]
    named = {text for text in texts if isinstance(text, str) and re.search(r"road authority|\(set ", text)}
    assert named <= {*_OWN, *_OWN.values()}


def test_a_plain_remedy_is_turned_round():
    assert authority_text("Reinstate it now.") == "The utility must reinstate it now."
    assert authority_text("Settle it with the road authority.") == "The utility must settle it with you."


@pytest.mark.parametrize(
    "remedy",
    [
        "Ask the road authority.",
        "Look at it. Then lift it.",
        "Look at it; lift it.",
        "Do not reuse it.",
    ],
)
def test_a_remedy_that_cannot_follow_the_utility_must_is_refused_without_a_text_of_its_own(remedy):
    cores = pd.DataFrame({"depth_mm": [1.0]})
    with pytest.raises(ContractError, match="expected words that can follow"):
        find(cores, "Bad.", remedy)


def test_one_remedy_has_one_text():
    with pytest.raises(ContractError, match="declared with two texts"):
        for_authority("Settle it with the road authority.", "Another text.")
