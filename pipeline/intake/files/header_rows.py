"""The header of a table: the row that holds the names, heads merged over several rows, and units beneath it."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from pipeline.contracts import REGISTER_COLUMNS
from pipeline.intake.files.sheet_cells import written_cell
from pipeline.programme.settings import Cores, Layer
from pipeline.units import SPELLINGS

__all__ = ["ANY_TABLE", "Head", "Wanted", "find_head", "fold", "units_in", "wanted_of"]

# a header further down has to be named
_SEARCHED_ROWS: Final = 1000
_MOST_HEAD_ROWS: Final = 6
# so many known names may be cells of a row by chance
_FEW_NAMES: Final = 2
_LON_LAT: Final = ("lon", "long", "longitude", "lat", "latitude")
_X_Y: Final = ("x", "easting", "y", "northing")
_UNIT_WORDS: Final = frozenset(
    {spelling for spellings in SPELLINGS.values() for spelling in spellings if spelling}
    | {"gal", "gals", "gallon", "gallons", "us gal.", "qt", "ft.", "in.", "°", "deg", "degrees", "decimal degrees", "%"}
    | {"wgs84", "wgs 84", "date", "time", "text", "hh:mm", "hh:mm:ss", "no.", "no", "nr", "#", "-", "n/a"}
)
# words that no register has as its only unit
_WEAK_UNITS: Final = frozenset({"no.", "no", "nr", "#", "-", "n/a", "text", "date", "time"})
_DATE_PATTERN: Final = re.compile(
    r"(?:d{1,2}|m{1,4}|y{2,4})(?:[-/. ](?:d{1,2}|m{1,4}|y{2,4})){1,2}(?: hh?:mm(?::ss)?)?"
)

Merge = tuple[tuple[int, int], tuple[int, int]]
Rows = Sequence[Sequence[Any]]


@dataclass(frozen=True)
class Wanted:
    """What a table is searched for.

    ``needed``: per name that the header has to hold, the ways it may be written. ``known``: further names that reveal a
    header. ``header_row``: 1-based row of the sheet or line of the text that is the header, or its lowest row; None to
    search. ``core_id``, ``position``, ``sizes``: names that the columns of these may have. ``serving``: per name
    without which no core can be read, the ways it may be written. ``section``, ``one``:
    where the settings of the table are and what each of its rows is, for errors.
    """

    needed: tuple[tuple[str, ...], ...] = ()
    known: tuple[str, ...] = ()
    header_row: int | None = None
    core_id: tuple[str, ...] = ()
    position: tuple[str, ...] = ()
    sizes: tuple[str, ...] = ()
    serving: tuple[tuple[str, ...], ...] = ()
    section: str = "cores"
    one: str = "core"

    @property
    def sets_aside(self) -> bool:
        """Whether rows that hold no core are looked for: only in a register."""
        return bool(self.core_id)


ANY_TABLE: Final = Wanted()


class Head(NamedTuple):
    """A header as found.

    ``top``, ``bottom``: its 0-based rows. ``names``: of the columns. ``held``: how many of the needed names it holds.
    ``hints``: how many of the known ones. ``texts``: every text of its rows, folded. ``serves``: whether it holds each
    name without which no core can be read, or where none is known every needed one.
    """

    top: int
    bottom: int
    names: list[str]
    held: int
    hints: int
    holds_all: bool
    texts: frozenset[str]
    serves: bool


def wanted_of(section: Layer, key: str) -> Wanted:
    """Return what a table is searched for: a register, for the names that its settings map or else the contract's."""
    if not isinstance(section, Cores):
        return Wanted(section=key)

    def names_of(column_name: str, short: str) -> tuple[str, ...]:
        mapped = section.columns.get(column_name)
        return (mapped,) if mapped is not None else (column_name, short)

    mapped = [*section.columns.values(), section.x, section.y, section.position]
    needed: list[tuple[str, ...]] = [(name,) for name in dict.fromkeys(mapped) if name is not None]
    by_name = {column.name: names_of(column.name, column.short) for column in REGISTER_COLUMNS}
    needed += [
        by_name[column.name] for column in REGISTER_COLUMNS if column.required and column.name not in section.columns
    ]
    of_position = (section.x, section.y) if section.position is None else (section.position,)
    set_names = [name for name in of_position if name is not None]
    position = tuple(set_names) if set_names else (*_LON_LAT, *_X_Y)
    places = [(name,) for name in set_names] if set_names else [position]
    return Wanted(
        needed=tuple(needed),
        known=(*(name for column in REGISTER_COLUMNS for name in (column.name, column.short)), *_LON_LAT, *_X_Y),
        header_row=section.header_row,
        core_id=by_name["core_id"],
        position=position,
        sizes=(*by_name["diameter_mm"], *by_name["depth_mm"]),
        serving=(*(by_name[column.name] for column in REGISTER_COLUMNS if column.required), *places),
        section=key,
    )


def fold(cell: object) -> str:
    """Return a name without regard to case and white space."""
    return " ".join(written_cell(cell).split()).casefold()


def find_head(rows: Rows, merges: Sequence[Merge], wanted: Wanted, row: int | None = None) -> Head | None:
    """Return the header of a table, or None where every row is blank.

    The header is the first row that holds every needed name; else the row that holds most of them, the first of
    equals; else the row that holds most of the known names, three or more; else the first filled row.

    A header may have several rows, held together by merged cells. A column's name is then the one in the lowest row if
    that is filled and no other column has it, else the names from the top to the lowest row with a blank between them.
    A name that is needed in the second form is given in the second form. A blank cell beneath a name, merged with it or
    not, takes the name.

    Parameters
    ----------
    rows
        The rows of the table, as cells; texts are compared without regard to case and white space.
    merges
        0-based first and last row and column of each merged area.
    wanted
        What to search for.
    row
        0-based row that is the header, instead of searching.
    """
    near = [merge for merge in merges if merge[0][0] < _SEARCHED_ROWS or merge[0][0] == row]
    if row is not None:
        return _head(rows, near, row, wanted)
    first = next((number for number in range(len(rows)) if _filled(rows, number)), None)
    if first is None:
        return None
    if not wanted.needed:
        return _head(rows, near, first, wanted)
    ways = [{fold(name) for name in names} for names in wanted.needed]
    known = {fold(name) for name in wanted.known}
    best, most = first, (0, 0)
    for number in range(first, max(first + 1, min(_SEARCHED_ROWS, len(rows)))):
        held = _forms(rows, near, number)
        score = (sum(not way.isdisjoint(held) for way in ways), len(known & held))
        if score[0] == len(ways):
            best = number
            break
        if score[0] > most[0] or (score[0] == most[0] == 0 and score[1] > max(most[1], _FEW_NAMES)):
            best, most = number, score
    return _head(rows, near, _lowest(rows, near, best), wanted)


def _head(rows: Rows, merges: Sequence[Merge], bottom: int, wanted: Wanted) -> Head:
    """Return the header whose lowest row is known."""
    top = _top(rows, merges, bottom)
    own, joined = _own_and_joined(rows, merges, top, bottom)
    needed = {fold(name) for names in wanted.needed for name in names}
    uses = Counter(fold(name) for name in own)
    names = [
        long if fold(long) in needed or not short or uses[fold(short)] > 1 else short
        for short, long in zip(own, joined, strict=True)
    ]
    have = {fold(name) for name in names}
    held = sum(any(fold(name) in have for name in ways) for ways in wanted.needed)
    texts = frozenset(fold(cell) for cells in rows[top : bottom + 1] for cell in cells) - {""}
    hints = len(have & {fold(name) for name in wanted.known})
    holds_all = held == len(wanted.needed)
    serves = all(any(fold(name) in have for name in ways) for ways in wanted.serving) if wanted.serving else holds_all
    return Head(top, bottom, names, held, hints, holds_all, texts, serves)


def _forms(rows: Rows, merges: Sequence[Merge], bottom: int) -> set[str]:
    """Return every form of a name that a row holds if it is the lowest row of the header."""
    own, joined = _own_and_joined(rows, merges, _top(rows, merges, bottom), bottom)
    return {fold(name) for name in (*own, *joined)} - {""}


def _top(rows: Rows, merges: Sequence[Merge], bottom: int) -> int:
    """Return the uppermost row that merged cells hold together with the lowest row of a header."""
    top = bottom
    while top > 0 and bottom - top < _MOST_HEAD_ROWS and _leads_on(rows, merges, top - 1):
        top -= 1
    return top


def _leads_on(rows: Rows, merges: Sequence[Merge], row: int) -> bool:
    """Return whether a row belongs to one header with the row beneath it."""
    for (first_row, first), (last_row, last) in merges:
        if first_row <= row < last_row:
            return True
        if last_row == row and last > first:
            filled = [column for column, cell in enumerate(rows[row]) if fold(cell)]
            # a merged cell that is alone in its row, from the first column on, is a title
            if filled != [first] or first > min(_filled(rows, row + 1), default=0):
                return True
    return False


def _lowest(rows: Rows, merges: Sequence[Merge], row: int) -> int:
    """Return the lowest row of the header that a row belongs to."""
    while row + 1 < len(rows):
        reaches_down = any(first[0] <= row < last[0] for first, last in merges)
        beneath = {
            column
            for first, last in merges
            if last[0] == row and last[1] > first[1]
            for column in range(first[1], last[1] + 1)
        }
        filled = _filled(rows, row + 1)
        # a row of the table is filled elsewhere too: at least under the name of its id
        is_head = bool(beneath) and bool(filled) and filled <= beneath
        texts = [rows[row + 1][column] for column in filled]
        if not reaches_down and not (is_head and all(isinstance(cell, str) for cell in texts)):
            break
        row += 1
    return row


def _filled(rows: Rows, row: int) -> set[int]:
    return {column for column, cell in enumerate(rows[row]) if fold(cell)} if row < len(rows) else set()


def _own_and_joined(rows: Rows, merges: Sequence[Merge], top: int, bottom: int) -> tuple[list[str], list[str]]:
    """Return the lowest name of each column, and its names from the top down with a blank between them."""
    width = len(rows[bottom])
    texts = [[" ".join(written_cell(cell).split()) for cell in rows[row]] for row in range(top, bottom + 1)]
    for (first_row, first), (last_row, last) in merges:
        # in the lowest row a name stays with its first column
        for row in range(max(first_row, top), min(last_row, bottom) + 1):
            if first_row < top or (row == bottom and last > first and first_row == bottom):
                continue
            for column in range(first, min(last + 1, width)):
                texts[row - top][column] = texts[first_row - top][first]
    own, joined = [], []
    for column in range(width):
        names = [row[column] for row in texts if column < len(row) and row[column]]
        own.append(names[-1] if names else "")
        joined.append(" ".join(dict.fromkeys(names)))
    return own, joined


def units_in(cells: Sequence[Any]) -> list[str] | None:
    """Return the units of a row that holds nothing else, stripped of brackets; None where it holds anything else."""
    units = [" ".join(written_cell(cell).split()).strip("()[] ") for cell in cells]
    filled = [unit.casefold() for unit in units if unit]
    are_units = all(unit in _UNIT_WORDS or _DATE_PATTERN.fullmatch(unit) for unit in filled)
    return units if are_units and any(unit not in _WEAK_UNITS for unit in filled) else None
