"""A proposed programme as the text of a TOML file: certain settings live, questions and their answers commented out."""

import datetime as dt
import json
import re
import textwrap
from typing import Final

from pipeline.propose.questions import Choice, Key, Question, Section, Value, one_line

__all__ = ["Answers", "numbered", "programme_text", "toml_value"]

# the choice taken for a question, by its number
Answers = dict[int, Choice]

_WIDTH: Final = 30
_LONGEST: Final = 115
_HEAD: Final = """\
# A programme proposed by `kerfbook start --from`. Paths are relative to the folder of this file.
# Lines that begin with "#" have no effect. A QUESTION is something that the files do not show: delete the "# " before
# the right answer, and before the lines that refer to the question. `kerfbook start FOLDER` writes a file that explains
# every other key.
"""


def numbered(sections: list[Section]) -> list[tuple[int, Section, Question]]:
    """Return the questions of a programme with their numbers, in the order of the file."""
    # a later section may wait for the question of an earlier one
    first = {id(question): (section, question) for section in reversed(sections) for question in section.questions}
    pairs = [(section, question) for section in sections for question in section.questions]
    own = [(section, question) for section, question in pairs if first[id(question)][0] is section]
    return [(number, section, question) for number, (section, question) in enumerate(own, start=1)]


def programme_text(sections: list[Section], answers: Answers, missing: dict[str, str]) -> str:
    """Return the programme file.

    Parameters
    ----------
    sections
        The sections in their order, ``[programme]`` first; registers are ``[[cores]]``.
    answers
        What was answered; questions without an answer stay commented out.
    missing
        Sections that a run needs and no file was given for, with why.
    """
    lines = [_HEAD.rstrip()]
    numbers = {id(question): number for number, _, question in numbered(sections)}
    asked: set[int] = set()
    for section in sections:
        lines += ["", *_section_lines(section, numbers, answers, asked)]
    for table, why in missing.items():
        lines += ["", f"# {why}", f"# [{table}]", '# path = "..."']
    return "\n".join(lines) + "\n"


def _section_lines(section: Section, numbers: dict[int, int], answers: Answers, asked: set[int]) -> list[str]:
    """Return the lines of one section and of its tables; ``asked``: numbers of the questions written, which grows."""
    head = f"[[{section.name}]]" if section.name == "cores" else f"[{section.name}]"
    given = _given(section, numbers, answers)
    lines = [*(line for remark in section.remarks for line in _comment(one_line(remark, 400))), head]
    tables = list(dict.fromkeys(setting.table for setting in section.settings))
    for table in sorted(tables, key=("", "columns", "units").index):
        if table:
            lines += ["", f"[{section.name}.{table}]"]
        # a key that is written, by what is shown for it: a question, or None for a line that counts
        written: set[tuple[str, int | None]] = set()
        for setting in section.settings:
            shown = None if setting.question is None else id(setting.question)
            if setting.table != table or {(setting.key, None), (setting.key, shown)} & written:
                continue
            if setting.question is None and any(known == setting.key for known, _ in written):
                continue
            key: Key = (table, setting.key)
            if setting.is_hint:
                lines.append(_off_line(setting.key, setting.value, setting.note))
            elif setting.question is None:
                lines.append(_line(setting.key, setting.value, setting.note))
            else:
                number = numbers[id(setting.question)]
                if key in given:
                    lines.append(_line(setting.key, given[key], f"answer to question {number}"))
                elif number in answers:
                    # the answer gives another key
                    lines.append(_off_line(setting.key, setting.value, f"see question {number}"))
                else:
                    lines += _question_lines(setting.question, number, key, setting.value, asked)
            written.add((setting.key, None if key in given else shown))
    return [_off(line) for line in lines] if _waits(section, numbers, answers) else lines


def _waits(section: Section, numbers: dict[int, int], answers: Answers) -> bool:
    """Return whether a section cannot be used until a question is answered, because its path waits for it."""
    paths = [setting for setting in section.settings if (setting.table, setting.key) == ("", "path")]
    return any(one.question is not None and numbers[id(one.question)] not in answers for one in paths)


def _off(lines: str) -> str:
    return "\n".join(line if not line or line.startswith("#") else f"# {line}" for line in lines.split("\n"))


def _given(section: Section, numbers: dict[int, int], answers: Answers) -> dict[Key, Value]:
    """Return the settings that the answers give, and those that waited for one."""
    given: dict[Key, Value] = {}
    for setting in section.settings:
        if setting.question is None:
            continue
        answer = answers.get(numbers[id(setting.question)])
        if answer is None:
            continue
        key = (setting.table, setting.key)
        if key in answer.gives:
            given[key] = answer.gives[key]
        elif not any(key in choice.gives for choice in setting.question.choices) and setting.value is not None:
            given[key] = setting.value
    return given


def _question_lines(question: Question, number: int, key: Key, value: Value | None, asked: set[int]) -> list[str]:
    """Return a question as comments, once, and the settings that wait for its answer, commented out."""
    choices = [choice for choice in question.choices if key in choice.gives]
    lines = []
    is_again = number in asked
    if not is_again:
        asked.add(number)
        lines += _comment(f"QUESTION {number}: {one_line(question.text, 600)}")
        if question.examples:
            lines.append(f"#   Examples: {'; '.join(one_line(example) for example in question.examples)}")
    if not choices:
        return [*lines, _off_line(key[1], value, f"needs the answer to question {number}")]
    seen: dict[str, None] = {}
    for choice in choices:
        is_first = next(iter(choice.gives)) == key
        note = (
            one_line(choice.reading, 200) if is_first else f"if question {number} is answered {one_line(choice.label)}"
        )
        note += f"; question {number}" if is_first and is_again else ""
        line = _off_line(key[1], choice.gives[key], note)
        seen[line] = None
    return [*lines, *seen]


def _off_line(key: str, value: Value | None, note: str = "") -> str:
    """Return one setting, commented out."""
    return _line(key, value, note, before="# ")


def _line(key: str, value: Value | None, note: str = "", *, before: str = "") -> str:
    """Return one setting, with its note if there is one."""
    written = key if re.fullmatch("[A-Za-z0-9_-]+", key) else toml_value(key)
    text = f"{before}{written} = {toml_value(value)}"
    if not note:
        return text
    line = f"{text:<{_WIDTH - 2}}  # {one_line(note, 300)}"
    # what is too long for the end of the line comes before it
    return line if len(line) <= _LONGEST else "\n".join([*_comment(one_line(note, 300)), text])


def _comment(text: str) -> list[str]:
    """Return a text of one line as comments that fit on a page."""
    return [f"# {line}" for line in textwrap.wrap(text, _LONGEST, subsequent_indent="  ")]


def toml_value(value: Value | None) -> str:
    """Return a value as TOML writes it; a text can hold anything that a cell holds."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | dt.date):
        return str(value)
    if isinstance(value, tuple):
        return f"[{', '.join(map(toml_value, value))}]"
    # a string of JSON is one of TOML, once the one control character that JSON leaves is escaped
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")
