"""Settings and questions."""

import pytest

from pipeline.propose.questions import Choice, Question, Section, one_line


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("a\nb", "a b"),
        ("a\x00\x1b[2Jb", "a [2Jb"),
        ("a\u2028b\x85c", "a b c"),
        ("  a   b ", "a b"),
        ("Ø ½ °F", "Ø ½ °F"),
    ],
)
def test_a_text_of_a_file_becomes_one_line_without_control_characters(text, line):
    assert one_line(text) == line


def test_a_long_text_is_cut():
    assert one_line("x" * 100, 10) == "xxxxxxxxx…"


def test_a_question_is_listed_once_however_many_settings_wait_for_it():
    section = Section("cores", "a")
    question = Question("Which?", (Choice("1", "", {("", "a"): 1, ("", "b"): 2}), Choice("2", "", {("", "a"): 3})))
    section.ask(question)
    assert [(setting.key, setting.value) for setting in section.settings] == [("a", 1), ("b", 2)]
    assert section.questions == [question]
