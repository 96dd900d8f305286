"""The parts of a document that becomes both a text and a page, and how a value of a core is shown in it."""

from dataclasses import dataclass
from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.contracts import AUDIT_FRAME, AUDITED_COLUMNS, REGISTER_COLUMNS, Column, start_of_day
from pipeline.publish.words import Words

__all__ = ["Cell", "Document", "Grid", "Listing", "Paragraph", "Section", "Shown", "is_given"]

Cell = Markup | str
_COLUMNS: Final = AUDIT_FRAME | {column.name: column for column in AUDITED_COLUMNS}
_NO_BREAK: Final = "\N{NO-BREAK SPACE}"
# text that people wrote into a register: it is quoted, while our own words are not
_QUOTED: Final = frozenset(column.name for column in REGISTER_COLUMNS) | {
    column.name for column in _COLUMNS.values() if column.cell_of
}


@dataclass(frozen=True)
class Paragraph:
    """One or more sentences; ``is_strong`` where they are the answer."""

    text: Cell
    is_strong: bool = False


@dataclass(frozen=True)
class Listing:
    """Lines one below the other; ``is_sum`` where they are steps of a calculation."""

    lines: tuple[Cell, ...]
    is_sum: bool = False


@dataclass(frozen=True)
class Grid:
    """A table: heads (none where the first column says what each row is) and rows of as many cells."""

    caption: Cell
    heads: tuple[Cell, ...]
    rows: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True)
class Section:
    """A part with a title; ``level`` 2 opens a row of the register, 3 is a part of it."""

    title: Cell
    parts: tuple[Paragraph | Listing | Grid, ...]
    level: int = 3


@dataclass(frozen=True)
class Document:
    """Everything about one core: ``window`` is the title without markup."""

    window: str
    title: Cell
    under: Cell
    parts: tuple[Paragraph | Listing | Grid, ...]
    sections: tuple[Section, ...]


def is_given(value: object) -> bool:
    """Return whether a cell holds a value."""
    return bool(pd.notna(value))  # type: ignore[call-overload]  # a cell is never a list


@dataclass(frozen=True)
class Shown:
    """How the values of a core are shown in one language; text of a register is quoted and escaped."""

    words: Words

    def label(self, name: str) -> str:
        """Return what people call a column; one that this version does not know by its name."""
        return self.words.translated(_COLUMNS[name].label) if name in _COLUMNS else name

    def value(self, name: str, value: object) -> Cell:
        """Return a value of a column with its unit."""
        if not is_given(value):
            return self.words.say("explain.missing")
        column = _COLUMNS.get(name, Column(name, "text"))
        if isinstance(value, bool) or column.kind == "boolean":
            return self.words.say("explain.yes" if value else "explain.no")
        if column.kind in {"instant", "day"} and isinstance(value, pd.Timestamp):
            return self.instant(value)
        if isinstance(value, (int, float)):
            return self.measure(float(value), column.shown_unit)
        meanings = dict(column.values)
        if value in meanings:
            return self.words.translated(meanings[str(value)])
        return self.quoted(value) if name in _QUOTED else self.words.own(self.words.translated(str(value)))

    def quoted(self, text: object) -> Markup:
        """Return text of a register or layer between quotation marks."""
        return self.words.say("explain.quoted", text=self.words.own(text, 2000))

    def named(self, text: Any) -> Cell:  # noqa: ANN401 - a cell of any kind
        """Return a name without quotation marks; a word for it where there is none."""
        return self.words.own(text) if is_given(text) else self.words.say("explain.none")

    def measure(self, value: float, unit: str = "") -> str:
        """Return a number with the digits it has, six significant ones at most, and its unit."""
        return _NO_BREAK.join([self.words.measure(value), unit] if unit else [self.words.measure(value)])

    def likelihood(self, value: float) -> str:
        """Return a likelihood, which may be very small, with four significant digits."""
        # an exponent is the same in every language
        return self.words.measure(float(f"{value:.4g}")) if value >= 0.0001 or value == 0 else f"{value:.3e}"

    def share(self, value: float) -> str:
        """Return a share of one in percent; what is nearly all or nearly nothing with more digits."""
        near = min(value, 1 - value)
        digits = 1 if near >= 0.001 or near <= 5e-7 else 4
        return self.words.percent(value, digits)

    def instant(self, value: pd.Timestamp) -> Markup:
        """Return a day, with the time of day where there is one."""
        if start_of_day(pd.Series([value])).iloc[0] == value:
            return self.words.date(value.date())
        offset = f"{value:%z}"
        clock = f"{value:%H:%M}" + (f" (UTC{offset[:3]}:{offset[3:5]})" if offset else "")
        return self.words.say("explain.day_and_time", day=self.words.date(value.date()), time=clock)
