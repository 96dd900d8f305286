"""The questions of a proposal, asked in a terminal."""

import click
from click.testing import CliRunner

from pipeline.cli.proposal import ask
from pipeline.commands.start_from import Proposal
from pipeline.propose.questions import Choice, Question, Section

_ZONE = Question("Which zone?", (Choice('"..."', "an IANA time zone", {("", "timezone"): "..."}),))


def _asked(question, typed):
    """Return what was printed, and the answers."""
    programme = Section("programme", "the programme")
    programme.ask(question)
    answers = {}

    @click.command()
    def command():
        answers.update(ask(Proposal(programme)))

    result = CliRunner().invoke(command, input=typed)
    assert result.exit_code == 0
    return result.stdout, answers


def test_each_answer_is_shown_with_what_the_examples_would_read():
    choices = (Choice('"us gal"', "4.73 L", {("units", "water"): "us gal"}), Choice('"imp gal"', "5.68 L", {}))
    printed, answers = _asked(Question("Which gallon?", choices, ("1.25",)), "1\n")
    assert "1. the programme: Which gallon?\n   In the file: 1.25\n" in printed
    assert '   1  "us gal": 4.73 L\n   2  "imp gal": 5.68 L\n' in printed
    assert answers == {1: choices[0]}


def test_a_written_answer_is_asked_again_until_it_exists():
    printed, answers = _asked(_ZONE, "Toronto\nAmerica/Toronto\n")
    assert '"Toronto" is not an IANA time zone' in printed
    assert answers[1].gives == {("", "timezone"): "America/Toronto"}


def test_a_header_is_asked_for_again_until_the_file_has_it():
    choice = Choice('"..."', "the header of that column", {("columns", "depth"): "..."})
    question = Question("Which column is the depth?", (choice,), allowed=("Tiefe", "Kern"))
    printed, answers = _asked(question, "1\nDepth\ntiefe\n")
    assert "   Type the header of that column.\n" in printed
    assert "   1  " not in printed
    assert '"1" is no header of the file; expected one of: Tiefe, Kern.' in printed
    assert answers[1].gives == {("columns", "depth"): "Tiefe"}


def test_a_written_answer_may_be_left_open():
    assert _asked(_ZONE, "\n")[1] == {}


def test_no_question_prints_nothing():
    assert ask(Proposal(Section("programme", "the programme"))) == {}


def test_text_of_a_file_cannot_control_the_terminal():
    question = Question("Which\x1b[2J column?", (Choice('"\x07a"', "b\nc", {("", "x"): "a"}),), ("\x1b]0;t",))
    printed, _ = _asked(question, "\n")
    assert "\x1b" not in printed
    assert "\x07" not in printed


def test_what_an_earlier_answer_has_settled_is_offered_no_more():
    programme = Section("programme", "the programme")
    for header in ("Von", "Bis"):
        names = ("opened_on", "reinstated_at")
        choices = tuple(Choice(name, "", {("columns", name): header}) for name in names)
        programme.ask(Question(f"Which date is {header}?", choices))
    answers = {}

    @click.command()
    def command():
        answers.update(ask(Proposal(programme)))

    result = CliRunner().invoke(command, input="1\n1\n")
    assert result.exit_code == 0
    assert [answers[number].label for number in (1, 2)] == ["opened_on", "reinstated_at"]
