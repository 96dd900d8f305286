"""Settings as proposed: certain ones, and those that wait for the answer to a question."""

import datetime as dt
import unicodedata
from dataclasses import dataclass, field
from typing import Final

__all__ = ["PLACEHOLDER", "Choice", "Key", "Question", "Section", "Setting", "Value", "one_line"]

Value = str | bool | int | dt.date | tuple[str, ...]
# the table within the section, "" for the section itself, and the key in it
Key = tuple[str, str]

# what a person has to replace
PLACEHOLDER: Final = "..."

_LONGEST: Final = 60


@dataclass(frozen=True)
class Choice:
    """One answer: how it is written, what the examples would read with it, and the settings that it gives."""

    label: str
    reading: str
    gives: dict[Key, Value]


@dataclass(frozen=True)
class Question:
    """What the files do not show: the question, up to three examples from the file, and the possible answers.

    ``allowed``: the headers of the file, where the answer is written by hand and has to be one of them.
    """

    text: str
    choices: tuple[Choice, ...]
    examples: tuple[str, ...] = ()
    allowed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Setting:
    """One line of a programme file: certain with a ``note`` on what shows it, or commented out for a ``question``.

    ``is_hint``: a key that can be used, commented out with its meaning.
    """

    table: str
    key: str
    value: Value | None
    note: str = ""
    question: Question | None = None
    is_hint: bool = False


@dataclass
class Section:
    """One section of a programme file: ``[roads]``, or one ``[[cores]]``."""

    name: str
    label: str
    settings: list[Setting] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    @property
    def questions(self) -> list[Question]:
        """The questions of the section, each once, in the order of their settings."""
        found: list[Question] = []
        for setting in self.settings:
            if setting.question is not None and not any(setting.question is known for known in found):
                found.append(setting.question)
        return found

    def add(self, table: str, key: str, value: Value | None, note: str = "", question: Question | None = None) -> None:
        """Append a setting."""
        self.settings.append(Setting(table, key, value, note, question))

    def hint(self, key: str, value: Value, note: str) -> None:
        """Append a key that can be used, commented out."""
        self.settings.append(Setting("", key, value, note, is_hint=True))

    def ask(self, question: Question) -> None:
        """Append a setting for each key that an answer gives, all waiting for the answer."""
        keys = dict.fromkeys(key for choice in question.choices for key in choice.gives)
        for table, key in keys:
            first = next(choice.gives[table, key] for choice in question.choices if (table, key) in choice.gives)
            self.add(table, key, first, question=question)


def one_line(text: object, longest: int = _LONGEST) -> str:
    """Return text without line breaks and control characters, so that it can end neither a comment nor a line."""
    clean = "".join(" " if unicodedata.category(letter)[0] in "CZ" else letter for letter in str(text))
    clean = " ".join(clean.split())
    return clean if len(clean) <= longest else clean[: longest - 1] + "…"
