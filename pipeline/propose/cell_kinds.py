"""What the cells of a column show about what it can hold."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import pandas as pd

from pipeline.contracts import REGISTER_COLUMNS, is_missing
from pipeline.intake.cells.coordinates import read_column
from pipeline.intake.cells.dates import read_dates
from pipeline.intake.cells.measures import read_measures
from pipeline.intake.cells.one_cell_positions import split_positions
from pipeline.intake.cells.serial_dates import could_be_serial
from pipeline.programme.catalogue import Catalogue
from pipeline.propose.header_words import plain_header

__all__ = ["ColumnCells", "Known", "cells_of", "column_cells", "examples_of", "fits"]

# so many cells show what a column holds
_SAMPLE: Final = 300
_MOST: Final = 0.6
# a few ids are written twice
_UNIQUE: Final = 0.8
# monthly lists of a year repeat an open core twelve times, and a few times more
_SHARE_OF_IDS: Final = 0.04
_ABOVE_CORES: Final = frozenset({"job", "item", "asset"})
_VAGUE_IDS: Final = frozenset({"core", "hole"})
_WORDS_KNOWN: Final = 0.3
_EXAMPLES: Final = 3
# 609.5999999999999 is 609.6 from a formula
_NOISE: Final = re.compile(r"(?<![0-9.])[0-9]+[.][0-9]{10,}(?![0-9.])")
# no date, measure or position is longer, and patterns take long over endless cells
_LONGEST: Final = 300
_DATE_LIKE: Final = r"[0-9](?:st|nd|rd|th)?[-/. ]+[A-Za-z0-9]+\.?[-/., ]+[0-9]|[A-Za-z]{3,}\.? [0-9]{1,2}\w*,? [0-9]{2}"
_TWO_NUMBERS: Final = r"[0-9].*[,;\s/|°].*[0-9]"
# a projected coordinate is longer than any number of degrees
_SHORTEST_LENGTH: Final = 1000
_KINDS: Final = {column.name: column.kind for column in REGISTER_COLUMNS} | {
    column.short: column.kind for column in REGISTER_COLUMNS
}
_UNITS: Final = {column.short: column.unit for column in REGISTER_COLUMNS if column.kind == "number"}


@dataclass(frozen=True)
class Known:
    """What cells are compared with: the catalogue, and the street names of the road layer in lower case."""

    catalogue: Catalogue
    streets: frozenset[str]


@dataclass(frozen=True)
class ColumnCells:
    """The filled cells of a column: all of them counted, a few hundred kept, evenly taken."""

    header: str
    text: pd.Series
    rows: int
    filled: int
    distinct: int

    def share(self, is_so: pd.Series) -> float:
        """Return the share of the kept cells for which something is so; zero where there is no cell."""
        return float(is_so.mean()) if len(is_so) else 0.0

    @cached_property
    def are_dates(self) -> bool:
        """Whether most cells are written dates."""
        # cheap to see, and false for most columns; 20260301 may as well be an id
        could_be = self.text.str.contains(_DATE_LIKE, regex=True).eq(True)
        if self.share(could_be) < _MOST:
            return False
        return any(
            self.share(could_be & read_dates(self.text, "UTC", day_first=day_first).instants.notna()) >= _MOST
            for day_first in (True, False)
        )

    @cached_property
    def are_positions(self) -> bool:
        """Whether most cells hold two coordinates."""
        if self.are_dates or self.share(self.text.str.contains(_TWO_NUMBERS, regex=True).eq(True)) < _MOST:
            return False
        degrees = split_positions(self.text, None, is_degrees=True).first
        lengths = split_positions(self.text, None, is_degrees=False).first
        near = np.isfinite(read_column(degrees, None, is_degrees=True).value)
        far = np.abs(read_column(lengths, None, is_degrees=False).value) > _SHORTEST_LENGTH
        return self.share(pd.Series(near | far)) >= _MOST


def column_cells(frame: pd.DataFrame) -> dict[str, ColumnCells]:
    """Return the filled cells of each column of a table."""
    found = {}
    for header in frame:
        text = frame[header][~is_missing(frame[header])].str.strip()
        kept = text.iloc[np.linspace(0, len(text) - 1, min(len(text), _SAMPLE)).astype(int)].str.slice(0, _LONGEST)
        found[str(header)] = ColumnCells(str(header), kept, len(frame), len(text), text.nunique())
    return found


def examples_of(text: pd.Series) -> list[str]:
    """Return up to three different cells, taken from all of the column, without the noise of a computed number."""
    return list(dict.fromkeys(_NOISE.sub(lambda found: f"{float(found[0]):.10g}", cell) for cell in cells_of(text)))


def cells_of(text: pd.Series) -> list[str]:
    """Return up to three different cells as they are written, taken from all of the column."""
    distinct = text.dropna().str.strip().drop_duplicates()
    return [
        str(cell)
        for cell in distinct.iloc[np.linspace(0, len(distinct) - 1, min(len(distinct), _EXAMPLES)).astype(int)]
    ]


def fits(column: str, cells: ColumnCells, known: Known, *, is_equal: bool) -> bool:
    """Return whether cells can hold a column of a register that their header may mean.

    Parameters
    ----------
    column
        The column, in the short form that programme files use.
    cells
        The filled cells. Without any, a header that is equal to a word is believed.
    known
        The catalogue and the streets.
    is_equal
        Whether the header is equal to a word for the column.
    """
    if not cells.filled:
        return is_equal and column not in {"core_id", "position", "x", "y"}
    if column == "core_id" and is_equal:
        return is_repeated_id(cells)
    test = _TESTS.get(column)
    if test is not None:
        return test(cells, known)
    if _KINDS.get(column) == "instant":
        return is_dates(cells, serial=is_equal)
    if column in _UNITS:
        return is_measures(cells, _UNITS[column]) and not cells.are_dates
    return not cells.are_dates


def is_dates(cells: ColumnCells, *, serial: bool) -> bool:
    """Return whether most cells are dates; ``serial``: digits alone may be a date, or count days."""
    if cells.are_dates or not serial:
        return cells.are_dates
    numbers = could_be_serial(cells.text)
    if cells.share(cells.text.str.fullmatch(r"[0-9]{8}").eq(True)) >= _MOST:
        return cells.share(read_dates(cells.text, "UTC", day_first=True).instants.notna()) >= _MOST
    return cells.share(numbers | cells.text.str.contains(_DATE_LIKE, regex=True).eq(True)) >= _MOST


def is_measures(cells: ColumnCells, unit: str) -> bool:
    """Return whether most cells are measures of a unit's dimension, or bare numbers."""
    read = read_measures(cells.text, unit, None, None)
    understood = read.values.notna() | read.problem.isin(["no unit", "which gallon", "thousands or decimals"])
    return cells.share(understood) >= _MOST


def is_id(cells: ColumnCells, _: Known) -> bool:
    """Return whether cells can be ids: nearly each its own, with a digit, and no dates or positions."""
    return is_own_id(cells) and _can_be_id(cells)


def is_own_id(cells: ColumnCells) -> bool:
    """Return whether nearly each cell is its own."""
    return cells.distinct >= _UNIQUE * cells.filled


def is_repeated_id(cells: ColumnCells) -> bool:
    """Return whether cells under the name of an id can be ids, even if monthly lists name each core again."""
    if not _can_be_id(cells):
        return False
    words = plain_header(cells.header)
    # a job has several cores, and "core" may head its size
    is_of_others = words.split()[0] in _ABOVE_CORES or (words in _VAGUE_IDS and is_measures(cells, "mm"))
    return is_own_id(cells) or (not is_of_others and cells.distinct >= max(2, _SHARE_OF_IDS * cells.filled))


def _can_be_id(cells: ColumnCells) -> bool:
    has_digit = cells.share(cells.text.str.contains("[0-9]", regex=True)) >= _MOST
    return has_digit and cells.filled * 2 >= cells.rows and not cells.are_dates and not cells.are_positions


def is_position(cells: ColumnCells, _: Known) -> bool:
    """Return whether most cells hold two coordinates."""
    return cells.are_positions


def is_coordinate(cells: ColumnCells, _: Known) -> bool:
    """Return whether most cells are one coordinate."""
    read = read_column(cells.text, None, is_degrees=True).value
    return cells.share(pd.Series(np.isfinite(read))) >= _MOST


def _is_street(cells: ColumnCells, _: Known) -> bool:
    return not cells.are_positions and not cells.are_dates and _has_letters(cells)


def _has_letters(cells: ColumnCells) -> bool:
    return cells.share(cells.text.str.contains(r"[^\W\d_]{2}", regex=True)) >= _MOST


def _is_surface(cells: ColumnCells, known: Known) -> bool:
    return cells.share(known.catalogue.surface_names(cells.text).notna()) >= _WORDS_KNOWN


def _is_shade(cells: ColumnCells, known: Known) -> bool:
    return cells.share(known.catalogue.shade_names(cells.text).notna()) >= _WORDS_KNOWN


def street_share(cells: ColumnCells, known: Known) -> float:
    """Return the share of cells that hold a street name of the road layer."""
    plain = cells.text.str.casefold()
    names = plain.drop_duplicates()
    hits = names[[any(street in name for street in known.streets) for name in names]]
    return cells.share(plain.isin(hits))


_TESTS: Final[dict[str, Callable[[ColumnCells, Known], bool]]] = {
    "core_id": is_id,
    "position": is_position,
    "x": is_coordinate,
    "y": is_coordinate,
    "street": _is_street,
    "surface_recorded": _is_surface,
    "shade_used": _is_shade,
}
