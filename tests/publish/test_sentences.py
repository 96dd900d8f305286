"""Sentences of findings: every one can be in another language, and no value is ever read as part of a sentence."""

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.audit.findings import ItemKind, Remedies, find, found_items
from pipeline.errors import SettingsError
from pipeline.programme import resources
from pipeline.publish.sentences import faults, finding_table, translate, with_sentences
from pipeline.publish.words import load_words, words_of

_ENGLISH = words_of("en")


def _language(locale="de", **data):
    """A language with nothing of its own but these sentences; its name is not English."""
    said = load_words() | {"locale": locale} | {f"data.{key}": own for key, own in data.items()}
    one = words_of("en", said)
    return type(one)("xx", said, one.locale)


def _table(found, words=_ENGLISH, states="open"):
    index = found.templates.index
    wording = found.worded(pd.Series(states, index), pd.Series(range(1, len(index) + 1), index))
    findings = pd.DataFrame({"row": range(1, len(index) + 1), "core_id": "A", "rule": "r", "severity": "note"})
    return finding_table(findings, {"r": wording}, words)


def _says(template, words=_ENGLISH, **values):
    """What a template says about one core with these values."""
    cores = pd.DataFrame({name: [value] for name, value in values.items()}, index=[7])
    return _table(find(cores, template, "Look."), words)["message"].item().removesuffix(" Look.")


def test_the_table_has_the_columns_of_findings_in_their_order():
    assert list(_table(find(pd.DataFrame(index=[0]), "Bad.", "Look."))) == [
        "row", "core_id", "rule", "severity", "message", "evidence",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("template", "value", "said"),
    [
        ("{x:.1f} L", 1234.56, "1,234.6 L"),
        ("{x:.0%}", 0.796, "80%"),
        ("{x:g}", 5.5, "5.5"),
        ("{x:g}", 300.0, "300"),
        ("{x:day}", 1.0, "1 day"),
        ("{x:day}", 45.0, "45 days"),
        ("{x:month}", 6.0, "6 months"),
        ("{x:minute}", 126.4, "126 minutes"),
        ("{x} rows", 3, "3 rows"),
        ("{x}", pd.Timestamp("2026-09-05"), "2026-09-05"),
        ("{x}", "Quay", "Quay"),
        ("{x}", None, "–"),
        ("{x:.1f} L", float("nan"), "– L"),
    ],
)
def test_a_value_is_written_by_its_format(template, value, said):
    assert _says(template, x=value) == said


@pytest.mark.parametrize(
    ("template", "value", "said"),
    [
        ("{x:.1f} L", 1234.56, "1.234,6 L"),
        ("{x:.0%}", 0.796, "80\N{NO-BREAK SPACE}%"),
        ("{x:day}", 1.0, "1 Tag"),
        ("{x:day}", 45.0, "45 Tage"),
        ("{x}", pd.Timestamp("2026-09-05"), "05.09.2026"),
    ],
)
def test_numbers_and_dates_follow_the_language_even_where_the_sentence_is_english(template, value, said):
    assert _says(template, _language("de"), x=value) == said


@pytest.mark.parametrize(
    ("value", "limit", "said"),
    [
        (5.54, 5.5, "5.54 (5.5)"),
        (6.0, 5.4, "6 (5.4)"),
        (5.1, 5.0, "5.1 (5)"),
        (99.96, 100.0, "99.96 (100)"),
        (7.0, 7.0, "7 (7)"),
    ],
)
def test_a_number_never_looks_the_same_as_the_limit_that_it_breaks(value, limit, said):
    assert _says("{x:.0f vs limit} ({limit:g})", x=value, limit=limit) == said


@given(st.floats(0, 1000), st.floats(0.001, 10))
@settings(max_examples=25, deadline=None)
def test_a_number_above_its_limit_reads_as_one_above_it(limit, excess):
    """Both to the same digits, as the table of formats has it; a thousandth is told apart."""
    one, other = _says("{x:.0f vs y} {y:.0f vs x}", x=limit + excess, y=limit).replace(",", "").split()
    assert float(one) > float(other)


def test_the_same_value_in_two_shapes_is_one_of_each():
    cores = pd.DataFrame({"x": [5.04, 6.0, 5.1]}, index=[4, 2, 9])
    said = _table(find(cores, "{x:.0f vs limit}", "Look.", limit=5.0))["message"]
    assert said.tolist() == ["5.04 Look.", "6 Look.", "5.1 Look."]


def test_a_translation_takes_the_values_in_its_own_order_and_the_formats_of_the_english():
    words = _language("de", **{"{used} L placed, {least} L needed.": "Nötig {least} L, verbraucht {used} L."})
    assert (
        _says("{used:.1f} L placed, {least:.1f} L needed.", words, used=1.5, least=2.0)
        == "Nötig 2,0 L, verbraucht 1,5 L."
    )


def test_fault_and_remedy_are_looked_up_by_themselves():
    words = _language("de", **{"Reinstate it now.": "Jetzt wieder einsetzen."})
    found = find(pd.DataFrame({"x": ["a"]}), "Bad: {x}.", "Reinstate it now.")
    assert _table(found, words)["message"].item() == "Bad: a. Jetzt wieder einsetzen."


def test_a_fault_is_told_without_its_remedy_and_is_the_message_where_there_is_no_template():
    """Three findings: of the second row there is no template, of the other rule none at all."""
    found = find(pd.DataFrame({"x": ["a"]}), "Bad: {x}.", "Reinstate it now.")
    wording = found.worded(pd.Series("open", found.templates.index), pd.Series([1], found.templates.index))
    findings = pd.DataFrame(
        {"row": [1, 2, 1], "rule": ["r", "r", "s"], "message": ["Bad: a. Do.", "Worse. Do.", "Odd. Do."]}
    )
    assert faults(findings, {"r": wording}, _ENGLISH).tolist() == ["Bad: a.", "Worse. Do.", "Odd. Do."]


@pytest.mark.parametrize(("state", "said"), [("open", "Open."), ("reinstated", "In."), ("unknown", "Ask.")])
def test_the_remedy_is_the_one_for_the_state_of_the_core(state, said):
    found = find(pd.DataFrame(index=[0]), "Bad.", Remedies(if_open="Open.", if_reinstated="In.", if_unknown="Ask."))
    assert _table(found, states=state)["message"].item() == f"Bad. {said}"


def test_each_core_has_its_own_template_from_a_column():
    cores = pd.DataFrame({"x": [1.0, 2.0, 3.0]}, index=[5, 6, 7])
    templates = pd.Series(["One is {x:g}.", "Other is {x:g}.", "One is {x:g}."], cores.index)
    assert _table(find(cores, templates, "Look."))["message"].tolist() == [
        "One is 1. Look.", "Other is 2. Look.", "One is 3. Look.",
    ]  # fmt: skip


_HOSTILE = [
    "Egg and also in West", "{district}", "{0}", "{district:.1f}", "\\1 $1", "a\nb\tc", "(.*", "]] and", "\x001\x00", "; x=y", "",
]  # fmt: skip


@pytest.mark.parametrize(
    "words", [_ENGLISH, _language("de", **{"In {a} and also in {b}.": "Sowohl in {a} als in {b}."})]
)
@pytest.mark.parametrize("hostile", _HOSTILE)
def test_a_value_is_never_read_as_part_of_a_sentence(hostile, words):
    shown = " ".join(hostile.replace("\x00", "<U+0000>").split("\n")).replace("\t", " ") if hostile.strip() else hostile
    said = _says("In {a} and also in {b}.", words, a=hostile, b="West")
    assert said in {f"In {shown} and also in West.", f"Sowohl in {shown} als in West."}
    assert said.startswith("In") == (words is _ENGLISH)


@given(st.text(max_size=60), st.text(max_size=60))
@settings(max_examples=40, deadline=None)
def test_whatever_a_cell_holds_the_words_around_it_stay(one, other):
    said = _says('The register gives "{one}", the map "{other}"; look.', one=one, other=other)
    assert said.startswith('The register gives "')
    assert said.endswith('"; look.')
    assert "\n" not in said


def test_a_page_of_text_in_a_cell_is_quoted_by_its_beginning():
    assert _says("{x}", x="a\nb\u202e" + "x" * 5000) == "a b<U+202E>" + "x" * 69 + "…"


def _listed(words, *texts):
    """A finding about one core that lists these texts."""
    cores = pd.DataFrame(index=[3])
    kinds = [
        ItemKind(pd.Series([True], [3]), '{label:term} "{text}"', {"label": f"Cell {place}", "text": text}, {"text": f"col_{place}"})
        for place, text in enumerate(texts)
    ]  # fmt: skip
    return _table(find(cores, "Not read: {cells}.", "Look.", {"cells": found_items(kinds)}), words)


def test_a_list_is_joined_as_the_language_joins_lists():
    english, german = (_listed(words, "a", "b", "c")["message"].item() for words in (_ENGLISH, _language("de")))
    assert english == 'Not read: Cell 0 "a", Cell 1 "b" and Cell 2 "c". Look.'
    assert german == 'Not read: Cell 0 "a", Cell 1 "b" und Cell 2 "c". Look.'


def test_the_words_of_a_list_are_looked_up_like_any_template():
    words = _language("de", **{'{label} "{text}"': "„{text}“ unter {label}", "Cell 0": "Zelle 0"})
    assert _listed(words, "a")["message"].item() == "Not read: „a“ unter Zelle 0. Look."


def test_marks_of_a_list_in_a_cell_stay_text():
    assert (
        _listed(_ENGLISH, "\x001\x00", "{text}")["message"].item()
        == 'Not read: Cell 0 "<U+0000>1<U+0000>" and Cell 1 "{text}". Look.'
    )


def test_two_cores_may_list_different_things():
    has = [pd.Series(one, [3, 8]) for one in ([True, False], [True, True])]
    kinds = [ItemKind(one, f"{name} {{n}}", {"n": 5}, {}) for one, name in zip(has, ("one", "two"))]
    said = _table(find(pd.DataFrame(index=[3, 8]), "{what}.", "Look.", {"what": found_items(kinds)}))
    assert said["message"].tolist() == ["one 5 and two 5. Look.", "two 5. Look."]


def test_evidence_names_values_for_programs_and_is_the_same_in_every_language():
    cores = pd.DataFrame({"x": [1234.5678912], "day": [pd.Timestamp("2026-09-05")], "text": ["a\nb"]})
    found = find(cores, "{x:.1f} {day} {text}.", "Look.")
    assert _table(found)["evidence"].item() == "x=1234.567891; day=2026-09-05; text=a b"
    assert _table(found, _language("de"))["evidence"].item() == "x=1234.567891; day=2026-09-05; text=a b"
    assert _listed(_ENGLISH, "a", "b")["evidence"].item() == "col_0=a; col_1=b"


def test_a_text_of_ours_without_a_translation_stays_english():
    texts = pd.Series(["asphalt", "slate", None], index=[7, 3, 5], dtype="str")
    said = translate(texts, {"asphalt": "Asphalt"})
    assert said.tolist()[:2] == ["Asphalt", "slate"]
    assert said.index.tolist() == [7, 3, 5]
    assert pd.isna(said[5])


def _plain(template):
    """A template as the file of a language has it: fields without their formats."""
    return pd.Series([template]).str.replace(r"\{(\w+):[^}]*\}", r"{\1}", regex=True).item()


def _templates(audit):
    for wording in audit.wordings.values():
        yield from map(_plain, pd.unique(wording.templates.to_numpy().ravel()))
        yield from (_plain(item.template) for items in wording.lists.values() for item in items)


def _cautions(texts):
    """Every caution: of pages, by state and surface, on reopening and lifting."""
    groups = [texts.general, *texts.state.model_dump().values(), *texts.surface.values()]
    lifting = texts.lifting.model_dump(exclude={"most_by_hand"})
    return [*(line for lines in groups for line in lines), *texts.reinstating.cautions, *lifting.values()]


def test_every_finding_title_and_caution_of_the_demo_can_be_in_another_language(demo):
    english = [*_templates(demo.audit), *demo.audit.rules["title"], *_cautions(demo.catalogue.core_cautions)]
    words = _language("en-GB", **{one: f"⟦{one}⟧" for one in english})
    own = with_sentences(demo, words)
    assert len(own.audit.findings) == len(demo.audit.findings) > 100
    # a fault and a remedy each, and the things that are listed inside
    plain = own.audit.findings["message"].str.replace("⟦", "").str.replace("⟧", "")
    dates = plain.str.contains(r"\d{1,2} [A-Z]\w{2,3} \d{4}")
    assert plain[~dates].tolist() == demo.audit.findings["message"][~dates].tolist()
    assert own.audit.findings["message"].str.fullmatch(r"⟦.*⟧ ⟦.*⟧").all()
    assert own.audit.rules["title"].tolist() == [f"⟦{one}⟧" for one in demo.audit.rules["title"]]
    assert own.catalogue.cautions == [f"⟦{one}⟧" for one in demo.catalogue.cautions]
    assert _cautions(own.catalogue.core_cautions) == [f"⟦{one}⟧" for one in _cautions(demo.catalogue.core_cautions)]
    # all else stays as it is
    assert own.table is demo.table
    assert own.audit.findings.drop(columns="message").equals(demo.audit.findings.drop(columns="message"))


def test_a_run_has_its_findings_in_english_and_making_them_again_changes_nothing(demo):
    assert with_sentences(demo, _ENGLISH).audit.findings.equals(demo.audit.findings)
    assert not demo.audit.findings["message"].str.contains(r"[{}]|\bnan\b|–").any()


def test_a_translation_that_asks_for_a_value_that_is_not_there_is_refused(tmp_path, monkeypatch):
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
