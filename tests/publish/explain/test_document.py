"""The document about one core: what the run is comes first, then each row, then decisions, history, inputs, cautions."""

import hashlib
import re
from pathlib import Path

import pytest

from pipeline.commands.explain import explain_core
from pipeline.publish.explain.document import explain_document
from pipeline.publish.explain.text import as_text
from pipeline.publish.words import words_of

_REGISTER = Path(__file__).parents[3] / "sample_data" / "cores.csv"
_WORDS = words_of("en")


@pytest.fixture(scope="module")
def said(demo):
    """The text about a core by its id, in lines long enough to hold a sentence."""
    texts = {}

    def of(core, row=None):
        if (core, row) not in texts:
            texts[core, row] = as_text(explain_document(explain_core(demo.folder, core, row), _WORDS), 4000)
        return texts[core, row]

    return of


def test_it_opens_with_the_run_and_what_the_figures_are_good_for(said):
    head = said("HV-0004").partition("Row 4:")[0]
    digest = hashlib.sha256(_REGISTER.read_bytes()).hexdigest()
    assert head.startswith("Core HV-0004\n============\nHarbour Vale 2026: audit as of 30 Sept 2026\nRun ")
    assert f"Register: cores.csv, SHA-256 {digest}." in head
    assert "do not replace local codes" in head


def test_the_parts_come_in_one_order(said):
    titles = re.findall(r"^(?:# )?(What was read|Road segment|Volumes|Mix and order|Passed|Decisions|History|Inputs of the run|Cautions)",
                        said("HV-0004"), re.MULTILINE)  # fmt: skip
    assert titles == [
        "What was read", "Road segment", "Volumes", "Mix and order", "Passed", "Decisions", "History",
        "Inputs of the run", "Cautions",
    ]  # fmt: skip


def test_every_rule_is_in_exactly_one_outcome(demo, said):
    text = said("HV-0004")
    counts = re.findall(
        r"^# (?:Findings?|At the limit|Not assessed|Passed|Not applicable): (\d+) rules?$", text, re.MULTILINE
    )
    assert sum(map(int, counts)) == len(demo.audit.rules)


def test_a_finding_is_shown_with_what_to_do(demo, said):
    found = demo.audit.findings
    (row,) = demo.cores.loc[demo.cores["core_id"].eq("HV-0142"), "row"]
    for message in found.loc[found["row"].eq(row), "message"]:
        assert said("HV-0142").count(message) == 2


def test_every_row_that_carries_the_id_is_explained_or_named(said):
    both = said("HV-0133")
    assert "2 rows of the registers carry this id." in both
    assert re.findall(r"^Row (\d+):", both, re.MULTILINE) == ["133", "203"]
    assert "This row repeats the core of row 133." in both
    one = said("HV-0133", 203)
    assert re.findall(r"^Row (\d+):", one, re.MULTILINE) == ["203"]
    assert "Row 133 carries the same id and is not explained here." in one


def test_a_core_without_an_id_is_explained_by_its_row(demo, said):
    (row, *_) = demo.cores.loc[demo.cores["core_id"].isna(), "row"]
    assert said(None, int(row)).startswith("Core without an id\n")


@pytest.mark.parametrize("core", ["HV-0071", "HV-0127", "HV-0111", "HV-0142"])
def test_nothing_missing_is_printed_as_the_program_holds_it(said, core):
    assert re.findall(r"\b(?:nan|NaN|NaT|None|<NA>|inf)\b", said(core)) == []
