"""What a diameter measures, the hole or the core: by the header, else one question for all registers."""

from dataclasses import replace

import pandas as pd

from pipeline.propose.cell_kinds import examples_of
from pipeline.propose.columns import Columns
from pipeline.propose.questions import Choice, Question, Section, one_line

__all__ = ["ask_once", "ask_what_a_diameter_is"]


def ask_what_a_diameter_is(section: Section, columns: Columns, frame: pd.DataFrame) -> None:
    """Add ``diameter_is``: settled by the header, else a question."""
    header = columns.found.get("diameter")
    plain = (header or "").casefold()
    if header is not None and ("hole" in plain or "cut" in plain or "bit" in plain or "opening" in plain):
        section.add("", "diameter_is", "hole", f'from the header "{one_line(header)}"')
        return
    if header is not None and "plug" in plain:
        section.add("", "diameter_is", "core", f'from the header "{one_line(header)}"')
        return
    examples: tuple[str, ...] = ()
    if header in frame:
        cells = frame[header].dropna()
        examples = tuple(examples_of(cells[cells.str.contains("[0-9]", regex=True)]))
    choices = (
        Choice('"hole"', "the hole as cut", {("", "diameter_is"): "hole"}),
        Choice('"core"', "the core that was lifted; two kerfs are added for the hole", {("", "diameter_is"): "core"}),
    )
    section.ask(
        Question(
            "What does the diameter measure? Without an answer, it is read as that of the hole.", choices, examples
        )
    )


def ask_once(sections: list[Section]) -> None:
    """Make one question of what the diameters of several registers measure."""
    waiting = [
        (section, place)
        for section in sections
        for place, one in enumerate(section.settings)
        if one.key == "diameter_is" and one.question is not None
    ]
    if len(waiting) < 2:
        return
    first = waiting[0][0].settings[waiting[0][1]].question
    assert first is not None
    *labels, last = (one_line(section.label) for section, _ in waiting)
    names = f"{', '.join(labels)} and {last}"
    text = (
        f"What do the diameters of {names} measure? Without an answer, they are read as those of holes. If the "
        "registers differ, leave this open and write it under each."
    )
    question = replace(first, text=text)
    for section, place in waiting:
        section.settings[place] = replace(section.settings[place], question=question)
