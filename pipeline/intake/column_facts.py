"""What was understood of one column of a register: how much of it was read, and what its values are."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any, Final, NamedTuple

import pandas as pd

from pipeline.contracts import Column
from pipeline.intake.date_columns import DateEvidence

__all__ = ["Cell", "ColumnFacts", "Unread", "cell_at", "column_facts"]

_MOST_SAMPLES: Final = 3
_COMMONEST: Final = 3
_TEXT_FILES: Final = (".csv", ".tsv", ".txt")


class Cell(NamedTuple):
    """One cell: what is written in it, and the file and the row or line that it is in."""

    text: str
    file: str
    place: int

    @property
    def file_name(self) -> str:
        """The name of the file without its folder."""
        return PurePath(self.file).name

    @property
    def is_line(self) -> bool:
        """Whether the place is the line of a text, not the row of a sheet or layer."""
        return self.file.lower().endswith(_TEXT_FILES)


class Unread(NamedTuple):
    """The cells of a column that could not be read for one reason: how many, and the first of them."""

    reason: str
    number: int
    cells: tuple[Cell, ...]


class End(NamedTuple):
    """A value at the end of a range, and the cell that it was read from."""

    value: float | pd.Timestamp
    cell: Cell


@dataclass(frozen=True)
class ColumnFacts:
    """What was understood of one column of the contract.

    ``headers``: the columns of the files that it was read from, none where the register does not keep it. ``filled``,
    ``read``, ``empty``: cells; those filled but not read are in ``unread``, by reason. ``units``: the unit of bare
    numbers, and what it was taken from. ``low``, ``high``: the ends of the range of numbers and dates. ``middle``:
    median of numbers. ``different``, ``commonest``: of texts, how many there are and which are the most frequent, with
    their counts. ``ahead``: how many dates lie after the day of the audit. ``evidence``: how the order of day and month
    was settled.
    """

    column: Column
    headers: tuple[str, ...] = ()
    filled: int = 0
    read: int = 0
    empty: int = 0
    unread: tuple[Unread, ...] = ()
    units: tuple[tuple[str, str], ...] = ()
    low: End | None = None
    middle: float | None = None
    high: End | None = None
    different: int = 0
    commonest: tuple[tuple[str, int], ...] = ()
    ahead: int = 0
    evidence: DateEvidence | None = None

    @property
    def is_kept(self) -> bool:
        """Whether the register has a column for it."""
        return bool(self.headers)

    @property
    def unreadable(self) -> int:
        """How many cells are filled, but could not be read."""
        return self.filled - self.read


def cell_at(frame: pd.DataFrame, label: Any, text: str) -> Cell:  # noqa: ANN401 - a label of pandas may be anything
    """Return the cell of a row by its label; ``text`` names the column of the frame that holds what is written."""
    row = frame.loc[label]
    written = row[text]
    return Cell("" if pd.isna(written) else str(written), str(row["file"]), int(row["register_row"]))


def column_facts(
    frame: pd.DataFrame,
    column: Column,
    headers: Sequence[str],
    as_of: dt.date,
    units: Sequence[tuple[str, str]] = (),
    evidence: DateEvidence | None = None,
) -> ColumnFacts:
    """Return what was understood of one column.

    Parameters
    ----------
    frame
        N rows of one register: the column, its ``_text`` and ``_problem`` as intake makes them, ``file`` and
        ``register_row``.
    column
        The column of the contract.
    headers
        The columns of the files that it was read from; none if the register does not keep it.
    as_of
        Day of the audit.
    units
        The unit of bare numbers, and what it was taken from.
    evidence
        Of dates, how their order of day and month was settled.
    """
    if not headers:
        return ColumnFacts(column, empty=len(frame))
    values = frame[column.name]
    read = int(values.notna().sum())
    if column.kind == "text":
        counts = values.value_counts()
        common = tuple((str(text), int(count)) for text, count in counts.head(_COMMONEST).items())
        return ColumnFacts(
            column, tuple(headers), read, read, len(frame) - read, different=len(counts), commonest=common
        )
    problem = frame[column.problem_name]
    # an unread cell has a problem, and an empty one has neither value nor problem
    filled = int((values.notna() | problem.notna()).sum())
    low = high = middle = None
    ahead = 0
    if read:
        low, high = (
            End(_plain(values.loc[label]), cell_at(frame, label, column.text_name))
            for label in _labels(values.idxmin(), values.idxmax())
        )
        middle = float(values.median()) if column.kind == "number" else None
        ahead = int((values.dt.date > as_of).sum()) if column.kind == "instant" else 0
    return ColumnFacts(
        column, tuple(headers), filled, read, len(frame) - filled, _unread(frame, column, problem), tuple(units),
        low, middle, high, ahead=ahead, evidence=evidence,
    )  # fmt: skip


def _labels(*labels: Any) -> tuple[Any, ...]:  # noqa: ANN401 - a label of pandas may be anything
    return labels


def _plain(value: object) -> float | pd.Timestamp:
    return value if isinstance(value, pd.Timestamp) else float(value)  # type: ignore[arg-type]  # a number of a column


def _unread(frame: pd.DataFrame, column: Column, problem: pd.Series) -> tuple[Unread, ...]:
    """Return the cells that could not be read, by reason, the most frequent reason first."""
    found = problem.dropna()
    counts = found.value_counts()
    return tuple(
        Unread(
            reason,
            int(count),
            tuple(cell_at(frame, label, column.text_name) for label in found.index[found.eq(reason)][:_MOST_SAMPLES]),
        )
        for reason, count in zip(map(str, counts.index), counts, strict=True)
    )
