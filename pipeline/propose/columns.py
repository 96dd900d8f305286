"""Which column of a file is which: by its header, and only where its cells agree."""

from dataclasses import dataclass, field
from typing import Final

import pandas as pd

from pipeline.contracts import REGISTER_COLUMNS
from pipeline.propose.cell_kinds import (
    ColumnCells,
    Known,
    column_cells,
    examples_of,
    fits,
    is_measures,
    is_own_id,
    street_share,
)
from pipeline.propose.header_words import Claim, claims, names_other_measure, plain_header
from pipeline.propose.questions import Choice, Question, one_line

__all__ = ["PLACES", "Columns", "ask_for_dates", "ask_for_missing", "propose_columns"]

# columns of a position, which are settled by where the roads are
PLACES: Final = ("position", "x", "y")
# headers that call the street, and as often something else
_VAGUE_STREETS: Final = frozenset({"address", "street address", "site address", "location", "where", "highway"})
_STREETS_FOUND: Final = 0.3
_MOST_CHOICES: Final = 6
_LABELS: Final = {column.short: column.label.lower() for column in REGISTER_COLUMNS}
# a wrong column of these changes numbers and delays
_MATTERS: Final = frozenset(column.short for column in REGISTER_COLUMNS if column.kind in {"number", "instant"})
_DATES: Final = tuple(column.short for column in REGISTER_COLUMNS if column.kind == "instant")
# a header that says less than another is no rival of it
_GENERAL: Final = frozenset({"date", "day", "start", "end", "number", "no"})


@dataclass
class Columns:
    """Which header means which column.

    ``found``: header by column. ``places``: the headers that may hold a position, by "position", "x" and "y".
    ``questions``: by column, where two headers fit or none does. ``unmapped``: headers that mean nothing known.
    ``dates``: a question for each of these that is all dates.
    """

    found: dict[str, str] = field(default_factory=dict)
    places: dict[str, list[str]] = field(default_factory=dict)
    questions: dict[str, Question] = field(default_factory=dict)
    unmapped: list[str] = field(default_factory=list)
    cells: dict[str, ColumnCells] = field(default_factory=dict)
    dates: list[Question] = field(default_factory=list)


def propose_columns(frame: pd.DataFrame, words: dict[str, list[str]], known: Known) -> Columns:
    """Return which header of a register means which column.

    A header that is equal to a word comes before one that only contains it. Where two are equal to a word for one
    column, a question names both, since one of them would change numbers.
    """
    cells = column_cells(frame)
    fitting = [
        (header, claim)
        for header, one in cells.items()
        for claim in claims(header, words)
        if fits(claim.column, one, known, is_equal=claim.is_equal)
        and not (claim.column == "street" and _is_vague(header, words) and street_share(one, known) < _STREETS_FOUND)
    ]
    columns = Columns(cells=cells)
    for place in PLACES:
        columns.places[place] = [header for header, claim in fitting if claim.column == place]
    # a position comes before whatever else its header may mean
    taken = {header for headers in columns.places.values() for header in headers}
    left = [(header, claim) for header, claim in fitting if claim.column not in PLACES and header not in taken]
    while left:
        best = max(claim.strength for _, claim in left)
        column = next(claim.column for _, claim in left if claim.strength == best)
        is_equal = best >= 100
        rivals = [
            header
            for header, claim in left
            if claim.column == column
            and (claim.strength == best or (column in _MATTERS and is_equal and _is_rival(header, claim)))
        ]
        if column == "core_id" and len(rivals) > 1:
            # of two names as good, the one whose cells do not repeat
            rivals = [header for header in rivals if is_own_id(cells[header])] or rivals
        if len(rivals) == 1:
            columns.found[column] = rivals[0]
        else:
            columns.questions[column] = _which(column, rivals, cells)
        taken |= set(rivals)
        left = [(header, claim) for header, claim in left if claim.column != column and header not in taken]
    columns.unmapped = [header for header in cells if header not in taken]
    return columns


def _is_rival(header: str, claim: Claim) -> bool:
    """Return whether a header is as good a name for a column as a longer one."""
    return claim.is_equal and plain_header(header) not in _GENERAL


def _is_vague(header: str, words: dict[str, list[str]]) -> bool:
    """Return whether a header calls the street by a word that may call something else."""
    clear = [word for word in words["street"] if word not in _VAGUE_STREETS]
    return not claims(header, {"street": clear})


def ask_for_missing(columns: Columns, known: Known, place: list[str]) -> None:
    """Add a question for each column that every register needs and that no header means.

    Parameters
    ----------
    columns
        Grows by the questions.
    known
        What cells are compared with.
    place
        The headers of the position.
    """
    for column in ("core_id", "diameter", "depth"):
        if column in columns.found or column in columns.questions:
            continue
        free = {header: columns.cells[header] for header in columns.unmapped if header not in place}
        if column == "core_id":
            could_be = [header for header, cells in free.items() if fits(column, cells, known, is_equal=False)]
        else:
            could_be = [
                header
                for header, cells in free.items()
                if cells.filled and is_measures(cells, "mm") and not names_other_measure(header)
            ]
        columns.questions[column] = _which(column, could_be, columns.cells)


def ask_for_dates(columns: Columns, place: list[str]) -> None:
    """Add a question for each column of dates that means nothing known: a delay may be counted by it.

    Parameters
    ----------
    columns
        Grows by the questions.
    place
        The headers of the position.
    """
    open_dates = [name for name in _DATES if name not in columns.found and name not in columns.questions]
    for header in columns.unmapped:
        cells = columns.cells.get(header)
        if cells is None or header in place or not cells.filled or not cells.are_dates or not open_dates:
            continue
        choices = tuple(Choice(f"`{name}`", _LABELS[name], {("columns", name): header}) for name in open_dates)
        text = f'Which date is "{one_line(header)}"? Its header is not known. Without an answer, it is kept as read.'
        columns.dates.append(Question(text, choices, tuple(examples_of(cells.text))))


def _which(column: str, headers: list[str], cells: dict[str, ColumnCells]) -> Question:
    """Return the question which of several headers means a column."""
    choices = tuple(
        Choice(
            f'"{header}"',
            ", ".join(examples_of(cells[header].text)) or "every cell is blank",
            {("columns", column): header},
        )
        for header in headers[:_MOST_CHOICES]
    )
    label = _LABELS.get(column, column)
    if not choices:
        text = f"Which column is the {label} (`{column}`)? No header is known; the file has: {', '.join(cells)}."
        choice = Choice('"..."', "the header of that column", {("columns", column): "..."})
        return Question(text, (choice,), allowed=tuple(cells))
    why = f"{len(headers)} headers are possible" if len(headers) > 1 else "the header does not say so"
    return Question(f"Which column is the {label} (`{column}`)? {why[0].upper()}{why[1:]}.", choices)
