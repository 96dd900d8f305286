"""The unit of each column of measures: from the header, a units row or the cells, else a question."""

from dataclasses import dataclass
from typing import Final

import pandas as pd

from pipeline.contracts import REGISTER_COLUMNS, is_missing
from pipeline.intake.cells.header_units import header_unit, stated_unit
from pipeline.intake.cells.measures import read_measures
from pipeline.intake.files.tables import RawTable
from pipeline.propose.cell_kinds import examples_of
from pipeline.propose.questions import Choice, Question
from pipeline.units import DIMENSION_OF_UNIT

__all__ = ["MEASURED", "ColumnUnit", "propose_unit"]

# columns with a unit, by the short name that programme files use; a count has none
MEASURED: Final = {column.short: column for column in REGISTER_COLUMNS if column.kind == "number" and column.unit}
_PRINTED: Final = {"degC": "°C"}
# so many cells show how large the numbers are
_SAMPLE: Final = 300
_UNITS: Final = {
    "length": ("mm", "cm", "m", "in", "ft"),
    "volume": ("L", "mL", "us gal", "imp gal"),
    "temperature": ("degC", "degF"),
}
# what a core has, in the unit of the column: a unit that puts most cells outside is none that anyone means
_POSSIBLE: Final = {
    "diameter": (40.0, 1600.0), "depth": (10.0, 2000.0), "air_temperature": (-40.0, 60.0), "water": (0.05, 100.0),
    "bedding": (1.0, 400.0), "flush": (-100.0, 100.0), "depression": (0.0, 200.0), "cover": (0.05, 30.0),
    "position_accuracy": (0.001, 500.0),
}  # fmt: skip


@dataclass(frozen=True)
class ColumnUnit:
    """The unit of a column's bare numbers: ``unit`` with a ``note`` on what shows it, or a ``question``.

    Without any of them, every cell has its own unit.
    """

    unit: str | None = None
    note: str = ""
    question: Question | None = None


def propose_unit(column: str, header: str, table: RawTable, decimal: str | None = None) -> ColumnUnit:
    """Return the unit of a column of measures; never one that its header contradicts.

    Parameters
    ----------
    column
        One of ``MEASURED``.
    header
        The file's column.
    table
        What the file holds, rows without a core set aside.
    decimal
        The decimal mark, where it is settled.
    """
    contract = MEASURED[column]
    text = table.frame[header]
    text = text[~is_missing(text)].drop_duplicates()
    read = read_measures(text, contract.unit, None, decimal)
    bare, which = text[read.problem.isin(["no unit", "thousands or decimals"])], text[read.problem.eq("which gallon")]
    stated, source = header_unit(header, contract.unit), "the header"
    if stated is None and header in table.header_units:
        stated, source = stated_unit(table.header_units[header], contract.unit), "the units row"
    if stated is not None and stated.unit is not None:
        return ColumnUnit(stated.unit, f'from {source}: "{stated.written}"')
    dimension = DIMENSION_OF_UNIT[contract.unit.lower()]
    if stated is not None and stated.could_be:
        return ColumnUnit(
            question=_ask(
                column, header, bare if len(bare) else text, stated.could_be, f'"{stated.written}" may be', decimal
            )
        )
    if len(which):
        return ColumnUnit(question=_ask(column, header, which, ("us gal", "imp gal"), "a gallon may be", decimal))
    if len(bare):
        found = (
            f'"{stated.written}" in {source} is not a unit of {dimension}; the unit may be'
            if stated
            else "the unit may be"
        )
        return ColumnUnit(question=_ask(column, header, bare, _UNITS[dimension], found, decimal))
    return ColumnUnit(note="each cell has its own unit" if len(text) else "every cell is blank")


def _ask(
    column: str, header: str, text: pd.Series, could_be: tuple[str, ...], why: str, decimal: str | None
) -> Question:
    """Return the question which unit bare numbers are in, with what the examples would be in each."""
    contract = MEASURED[column]
    examples = examples_of(text)
    kept = pd.Series([*examples, *text.iloc[:_SAMPLE]], dtype="str")
    readings = {unit: _read(kept, contract.unit, unit, decimal) for unit in could_be}
    possible = [unit for unit in could_be if any(_is_possible(column, one) for one in readings[unit])] or list(could_be)
    choices = tuple(
        Choice(
            f'"{unit}"',
            ", ".join(
                _shown(example, value, contract.unit)
                for example, value in zip(examples, readings[unit][0], strict=False)
            ),
            {("units", column): unit},
        )
        for unit in possible
    )
    if len(possible) == 1:
        which = f"Judging by its numbers, it can only be {possible[0]}; confirm it."
    else:
        which = f"{why[0].upper()}{why[1:]} {', '.join(possible[:-1])} or {possible[-1]}."
    return Question(f'Which unit is "{header}" in? {which}', choices, tuple(examples))


def _read(text: pd.Series, wanted: str, unit: str, decimal: str | None) -> list[pd.Series]:
    """Return bare numbers of a unit as read: once, or once for each decimal mark where that is open and matters."""
    marks = [decimal] if decimal else [".", ","] if text.str.contains(",", regex=False).any() else ["."]
    return [read_measures(text, wanted, unit, mark).values for mark in marks]


def _is_possible(column: str, values: pd.Series) -> bool:
    """Return whether most values are possible for the column."""
    low, high = _POSSIBLE.get(column, (float("-inf"), float("inf")))
    middle = values.median()
    return bool(pd.isna(middle) or low <= middle <= high)


def _shown(example: str, value: float, wanted: str) -> str:
    """Return an example as it would be read, such as "4.73 L"."""
    if pd.isna(value):
        return f'"{example}" not read'
    number = f"{value:.3g}" if abs(value) < 1000 else f"{value:,.0f}"
    return f"{number} {_PRINTED.get(wanted, wanted)}"
