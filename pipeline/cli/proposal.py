"""A proposed programme in the terminal: its questions asked, and a summary of what was understood."""

from collections import defaultdict
from dataclasses import replace
from typing import Any

import click

from pipeline.cli.terminal import printer, say
from pipeline.propose.questions import PLACEHOLDER, Choice, Key, Question, Section, Value, one_line
from pipeline.propose.written_answers import problem_with
from pipeline.wording import counted

__all__ = ["ask", "proposal_summary"]

_MOST_NOTICES = 10


def ask(proposal: Any) -> dict[int, Choice]:  # noqa: ANN401 - its type would slow down the start of every command
    """Ask the questions of a proposal, and return the answers by the number of the question."""
    answers: dict[int, Choice] = {}
    settled: defaultdict[str, set[Key]] = defaultdict(set)
    questions = proposal.questions
    if questions:
        say()
        say(f"The files leave {counted(len(questions), 'question')} open. Press Enter to skip one.")
    for number, section, question in questions:
        # what an earlier answer has settled is no choice any more
        choices = tuple(choice for choice in question.choices if not choice.gives.keys() & settled[section.label])
        if not choices:
            continue
        try:
            answer = _ask(number, section, replace(question, choices=choices))
        except click.Abort as error:
            if not isinstance(error.__context__, EOFError):
                raise
            say()
            say("End of input: the rest is written into the programme as questions.")
            break
        if answer is not None:
            answers[number] = answer
            settled[section.label] |= answer.gives.keys()
    return answers


def _ask(number: int, section: Section, question: Question) -> Choice | None:
    """Ask one question; None where it is left open."""
    say()
    say(f"{number}. {one_line(section.label)}: {one_line(question.text, 600)}")
    if question.examples:
        say(f"   In the file: {'; '.join(one_line(example) for example in question.examples)}")
    if len(question.choices) == 1 and PLACEHOLDER in question.choices[0].label:
        say(f"   Type {one_line(question.choices[0].reading, 200)}.")
        return _written(question)
    for place, choice in enumerate(question.choices, start=1):
        reading = f": {one_line(choice.reading, 200)}" if choice.reading else ""
        say(f"   {place}  {one_line(choice.label)}{reading}")
    allowed = ["", *(str(place) for place in range(1, len(question.choices) + 1))]
    answer = click.prompt(
        f"   1 to {len(question.choices)}, or Enter to skip" if len(question.choices) > 1 else "   1, or Enter to skip",
        type=click.Choice(allowed), default="", show_choices=False, show_default=False,
    )  # fmt: skip
    return question.choices[int(answer) - 1] if answer else None


def _written(question: Question) -> Choice | None:
    """Ask for a value that only the user knows, such as a time zone; None where it is left open."""
    choice = question.choices[0]
    if len(choice.gives) > 1:
        say("   Write the answer into the programme file.")
        return None
    ((key, _),) = choice.gives.items()
    while True:
        text = click.prompt(f"   {key[1]}, or Enter to skip", default="", show_default=False).strip()
        # a header in other letters is that header
        text = next((header for header in question.allowed if header.casefold() == text.casefold()), text)
        problem = problem_with(key[1], text, question.allowed) if text else ""
        if not problem:
            return Choice(f'"{text}"', "", {key: text}) if text else None
        say(f"   {problem}")


def _given(proposal: Any, section: Section, answers: dict[int, Choice]) -> dict[Key, Value]:  # noqa: ANN401 - as above
    """Return the settings of a section that were given by answers."""
    return {
        key: value
        for number, owner, _ in proposal.questions
        if owner is section and number in answers
        for key, value in answers[number].gives.items()
    }


def proposal_summary(proposal: Any, answers: dict[int, Choice]) -> None:  # noqa: ANN401 - as above
    """Print what was proposed: files, registers, columns, rows set aside, and the questions that are left."""
    from rich.table import Table

    console = printer()
    left = [entry for entry in proposal.questions if entry[0] not in answers]
    for register in proposal.registers:
        aside = f"; {counted(register.set_aside, 'row')} set aside: no core" if register.set_aside else ""
        console.print(f"{one_line(register.section.label)}: {counted(register.rows, 'row')}{aside}")
        table = Table("header", "read as", "unit", "evidence")
        given = _given(proposal, register.section, answers)
        for line in register.columns:
            unit = str(given.get(("units", line.meaning), line.unit))
            is_answered = unit != line.unit or given.get(("columns", line.meaning.rstrip("?"))) == line.header
            shown_by = "answer" if is_answered else line.shown_by
            table.add_row(*(one_line(cell) for cell in (line.header, line.meaning, unit, shown_by)))
        console.print(table)
        if register.unmapped:
            headers = ", ".join(f'"{one_line(header)}"' for header in register.unmapped)
            console.print(f"Columns not used, kept as written: {headers}")
        for notice in register.notices[:_MOST_NOTICES]:
            console.print(f"Note: {one_line(notice, 400)}")
    for layer in proposal.layers:
        found = ", ".join(f"{name} = {one_line(header)}" for name, header in layer.columns.items())
        console.print(f"{one_line(layer.section.label)}: {found or 'no columns'}")
    for why in proposal.missing.values():
        console.print(f"Missing: {why}")
    if left:
        console.print(f"{counted(len(left), 'open question')}, marked QUESTION in the programme file:")
        for number, section, question in left:
            text = f"  {number}. {one_line(section.label)}: {one_line(question.text, 200)}"
            console.print(text)
