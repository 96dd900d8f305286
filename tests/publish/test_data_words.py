"""What rules found, in another language: every sentence of theirs can be said, and the values come through."""

import re
import sys
from pathlib import Path

import pandas as pd
import pytest

from pipeline.errors import SettingsError
from pipeline.programme import resources
from pipeline.publish.data_words import in_language, translate
from pipeline.publish.words import load_words, words_of
from pipeline.run import run_programme

_DEMO = Path(__file__).parents[2] / "sample_data" / "programme.toml"


def _said(text: str, **data: str) -> str | None:
    return translate(pd.Series([text]), data)[0]


def test_a_sentence_is_said_with_its_values_in_the_order_of_the_language():
    said = {
        "{used} L placed, {least} L needed: look.": "Gebraucht werden {least} L, verwendet {used} L.",
        "Done.": "Fertig.",
    }
    texts = pd.Series(["1.5 L placed, 2.0 L needed: look.", "Done.", "Other.", None], index=[7, 3, 5, 9])
    own = translate(texts, said)
    assert own.index.tolist() == [7, 3, 5, 9]
    assert own.tolist()[:3] == ["Gebraucht werden 2.0 L, verwendet 1.5 L.", "Fertig.", "Other."]
    assert pd.isna(own[9])


def test_of_two_sentences_that_fit_the_one_that_says_more_itself_is_taken():
    data = {"{a}: {b}": "kurz {a} {b}", "{a}: too low by {b}": "zu tief um {b} ({a})"}
    assert _said("HV-1: too low by 3 mm", **data) == "zu tief um 3 mm (HV-1)"
    assert _said("HV-1: 3 mm", **data) == "kurz HV-1 3 mm"


@pytest.mark.parametrize("hostile", ["{b}", "a{0}", "\\1 $1", "line\nbreak", "(.*", ": too low by ", ""])
def test_a_value_is_never_taken_for_a_pattern_or_a_place(hostile):
    assert _said(f"[{hostile}] is wrong", **{"[{a}] is wrong": "falsch: [{a}]"}) == f"falsch: [{hostile}]"


def test_a_text_that_no_rule_can_have_written_is_left_alone():
    long = "[" + "a] b [" * 400_000
    assert _said(long, **{"[{a}] b [{c}] d [{e}] f": "x {a}{c}{e}"}) == long


@pytest.fixture(scope="module")
def spoken():
    """The demo, and every sentence that its rules made findings of, as they were asked to."""
    templates: set[str] = set()
    patch = pytest.MonkeyPatch()
    for name, module in sorted(sys.modules.items()):
        if name.startswith("pipeline.audit.") and hasattr(module, "find") and not name.endswith("sentences"):
            plain = module.find

            def find(cores, template, plain=plain, **more):
                templates.add(template)
                return plain(cores, template, **more)

            patch.setattr(module, "find", find)
    result = run_programme(_DEMO, None)
    patch.undo()
    return result, {re.sub(r"\{(\w+):[^}]*\}", r"{\1}", template) for template in templates}


def test_every_finding_title_and_caution_of_the_demo_can_be_said(spoken):
    result, templates = spoken
    assert len(templates) > 60
    english = [*templates, *result.audit.rules["title"], *result.catalogue.cautions]
    words = words_of("en", load_words() | {f"data.{one}": f"⟦{one}⟧" for one in english})
    own = in_language(result, words)
    assert len(own.audit.findings) == 186
    for said, was in (
        (own.audit.findings["message"], result.audit.findings["message"]),
        (own.audit.rules["title"], result.audit.rules["title"]),
        (pd.Series(own.catalogue.cautions), pd.Series(result.catalogue.cautions)),
    ):
        assert said.tolist() == [f"⟦{one}⟧" for one in was]
    # the tables stay as they are
    assert own.table is result.table
    assert own.audit.findings.drop(columns="message").equals(result.audit.findings.drop(columns="message"))


def test_in_english_nothing_is_done(spoken):
    result, _ = spoken
    assert in_language(result, words_of("en")) is result


def test_a_sentence_that_asks_for_a_value_that_is_not_there_is_refused(tmp_path, monkeypatch):
    folder = tmp_path / "words"
    folder.mkdir()
    english = (resources.shipped("config") / "words" / "en.toml").read_text("utf-8")
    (folder / "en.toml").write_text(english, "utf-8")
    (folder / "de.toml").write_text(
        english.replace('locale = "en-GB"', 'locale = "de"') + '\n[data]\n"{a} is low" = "{a} ist {b} zu tief"\n',
        "utf-8",
    )
    monkeypatch.setattr("pipeline.publish.words.shipped", lambda _: tmp_path)
    with pytest.raises(SettingsError, match=r"data\.\{a\} is low: nothing fills in b"):
        load_words("de")
    (folder / "de.toml").write_text((folder / "de.toml").read_text("utf-8").replace("{b} ", ""), "utf-8")
    assert load_words("de")["data.{a} is low"] == "{a} ist zu tief"
