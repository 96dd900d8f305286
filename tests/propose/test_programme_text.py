"""A proposed programme as text."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.propose.programme_text import numbered, programme_text, toml_value
from pipeline.propose.questions import Choice, Question, Section

_GALLON = Question(
    'Which gallon is "Water"?',
    (
        Choice('"us gal"', "4.7 L", {("units", "water"): "us gal"}),
        Choice('"imp gal"', "5.7 L", {("units", "water"): "imp gal"}),
    ),
    ("1.25", "1.5"),
)


def _register():
    section = Section("cores", "Harbour")
    section.add("", "path", "a.csv")
    section.add("columns", "core_id", "No.", "by its cells")
    section.add("columns", "water", "Water", question=_GALLON)
    section.ask(_GALLON)
    return section


def test_a_question_is_written_once_with_its_examples_and_every_answer_is_commented_out():
    text = programme_text([_register()], {}, {})
    assert text.count("# QUESTION 1: ") == 1
    assert "#   Examples: 1.25; 1.5\n" in text
    assert '# water = "Water"             # needs the answer to question 1\n' in text
    assert (
        '# water = "us gal"            # 4.7 L; question 1\n# water = "imp gal"           # 5.7 L; question 1\n' in text
    )
    assert tomllib.loads(text) == {"cores": [{"path": "a.csv", "columns": {"core_id": "No."}, "units": {}}]}


def test_an_answer_is_live_and_so_is_what_waited_for_it():
    text = programme_text([_register()], {1: _GALLON.choices[1]}, {})
    assert "QUESTION 1" not in text
    written = tomllib.loads(text)["cores"][0]
    assert (written["columns"]["water"], written["units"]["water"]) == ("Water", "imp gal")


def test_a_section_whose_path_waits_is_commented_out():
    stock = Section("orders.stock", "stock")
    stock.add("", "path", "stock.csv", question=_GALLON)
    stock.add("columns", "yard", "Yard")
    assert "orders" not in tomllib.loads(programme_text([_register(), stock], {}, {}))
    live = tomllib.loads(programme_text([_register(), stock], {1: _GALLON.choices[0]}, {}))
    assert live["orders"]["stock"] == {"path": "stock.csv", "columns": {"yard": "Yard"}}


def test_a_question_that_two_sections_wait_for_has_one_number():
    stock = Section("orders.stock", "stock")
    stock.add("", "path", "stock.csv", question=_GALLON)
    assert [(number, section.label) for number, section, _ in numbered([_register(), stock])] == [(1, "Harbour")]


def test_a_missing_section_is_there_to_fill_in():
    text = programme_text([_register()], {}, {"roads": "Roads are needed."})
    assert text.endswith('\n# Roads are needed.\n# [roads]\n# path = "..."\n')


def test_a_key_that_is_no_bare_word_is_quoted():
    yards = Section("orders.yards", "yards")
    yards.add("", "Mill Bank", "North yard")
    assert tomllib.loads(programme_text([yards], {}, {})) == {"orders": {"yards": {"Mill Bank": "North yard"}}}


@pytest.mark.parametrize(("value", "text"), [(True, "true"), (5, "5"), ('a"b\\c\x7f', '"a\\"b\\\\c\\u007f"')])
def test_a_value_is_written_as_toml_has_it(value, text):
    assert toml_value(value) == text


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_any_text_comes_back_from_a_value_and_none_leaves_its_comment(cell):
    question = Question(cell, (Choice(cell, cell, {("", "crs"): cell}),), (cell,))
    section = Section("cores", "Harbour", remarks=[cell])
    section.add("", "path", cell, cell)
    section.ask(question)
    assert tomllib.loads(programme_text([section], {}, {"roads": "none"})) == {"cores": [{"path": cell}]}


def test_several_names_are_a_list():
    written = toml_value(("Jan", 'F"eb'))
    assert tomllib.loads(f"a = {written}") == {"a": ["Jan", 'F"eb']}


def test_two_questions_may_give_one_key_and_both_are_written():
    section = Section("cores", "A")
    for header in ("Von", "Bis"):
        choices = tuple(Choice(name, "", {("columns", name): header}) for name in ("opened_on", "reinstated_at"))
        section.ask(Question(f"Which date is {header}?", choices))
    text = programme_text([section], {}, {})
    assert "# QUESTION 1: Which date is Von?" in text
    assert "# QUESTION 2: Which date is Bis?" in text
    answered = programme_text([section], {1: section.questions[0].choices[0], 2: section.questions[1].choices[1]}, {})
    assert tomllib.loads(answered)["cores"][0]["columns"] == {"opened_on": "Von", "reinstated_at": "Bis"}
