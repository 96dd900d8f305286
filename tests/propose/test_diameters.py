"""What a diameter measures."""

import pandas as pd
import pytest

from pipeline.propose.columns import Columns
from pipeline.propose.diameters import ask_once, ask_what_a_diameter_is
from pipeline.propose.programme_text import programme_text
from pipeline.propose.questions import Section


def _section(header, label="A"):
    section = Section("cores", label)
    frame = pd.DataFrame({header: pd.Series(["450", "none"], dtype="str")})
    ask_what_a_diameter_is(section, Columns(found={"diameter": header}), frame)
    return section


@pytest.mark.parametrize(("header", "value"), [("Hole dia", "hole"), ("Bit size", "hole"), ("Plug dia", "core")])
def test_the_header_may_say_it(header, value):
    section = _section(header)
    assert ([one.value for one in section.settings], section.questions) == ([value], [])


def test_otherwise_it_is_a_question_with_cells_that_hold_a_number():
    (question,) = _section("Dia").questions
    assert ([choice.label for choice in question.choices], question.examples) == (['"hole"', '"core"'], ("450",))


def test_several_registers_are_asked_once_and_the_answer_holds_for_each():
    sections = [_section("Dia", "A"), _section("Hole dia", "B"), _section("Size", "C"), _section("Dia", "D")]
    ask_once(sections)
    assert sections[0].questions[0].text.startswith("What do the diameters of A, C and D measure?")
    text = programme_text(sections, {}, {})
    assert text.count("# QUESTION 1: What") == 1
    assert "QUESTION 2" not in text
    assert text.count('# diameter_is = "hole"        # the hole as cut; question 1') == 2
    answered = programme_text(sections, {1: sections[0].questions[0].choices[1]}, {})
    assert answered.count('diameter_is = "core"') == 3


def test_one_register_alone_is_asked_in_its_own_words():
    section = _section("Dia")
    ask_once([section])
    assert section.questions[0].text.startswith("What does the diameter measure?")
