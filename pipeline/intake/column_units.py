"""The unit of a column's bare numbers, from the programme, the header or a units row, and where these disagree."""

from typing import Literal, NamedTuple

from pipeline.contracts import Column
from pipeline.intake.cells.header_units import HeaderUnit, header_unit, stated_unit
from pipeline.units import DIMENSION_OF_UNIT, same_unit, units_of

__all__ = ["ColumnUnit", "UnitFrom", "UnusableColumnError", "column_unit", "missing_unit"]

UnitFrom = Literal["programme", "header", "units row", "column name", "cells"]


class UnusableColumnError(Exception):
    """A column cannot be used as it is: ``what`` was found, and the ``remedy``."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what, self.remedy = what, remedy


class ColumnUnit(NamedTuple):
    """The unit of a column's bare numbers.

    ``unit``: None where each cell has its own. ``unit_from``: what it was taken from. ``stated``: what the header or
    the units row states. ``notice``: what the user should know, empty if nothing.
    """

    unit: str | None
    unit_from: UnitFrom
    stated: HeaderUnit | None = None
    notice: str = ""


def column_unit(column: Column, source: str, in_row: str | None, in_programme: str | None, key: str) -> ColumnUnit:
    """Return the unit of a column's bare numbers.

    The programme may add a unit to a header without one, and may settle one that could be two, such as "gal". It may
    not contradict a header: read in the wrong one of the two units, every cell of the column is wrong, and nothing
    later shows which of the two it is.

    Parameters
    ----------
    column
        The column of the contract.
    source
        The header of the file's column.
    in_row
        Its cell in the units row under the header, if the file has one.
    in_programme
        The unit that the programme gives it.
    key
        The programme's key for that unit, for messages.

    Raises
    ------
    UnusableColumnError
        Two of the three disagree.
    """
    header = header_unit(source, column.unit)
    row = stated_unit(in_row, column.unit) if in_row else None
    if header and row and header.unit and row.unit and not same_unit(header.unit, row.unit):
        found = f'has the unit "{header.written}" in its header and "{row.written}" in the units row'
        if in_programme and any(same_unit(in_programme, unit) for unit in (header.unit, row.unit)):
            return ColumnUnit(
                in_programme, "programme", header, f"{found}; {key} = {_quoted((in_programme,))} is used."
            )
        raise UnusableColumnError(found, f'Correct the file, or set {key} to "{header.unit}" or "{row.unit}".')
    by_row = bool(row and row.unit) or header is None
    stated = row if by_row else header
    is_own = source.strip().casefold() == column.name
    said_by: UnitFrom = "units row" if by_row else "column name" if is_own else "header"
    if in_programme:
        # a programme may repeat what the header says
        is_repeated = stated is not None and stated.unit is not None and same_unit(in_programme, stated.unit)
        notice = _contradiction(column, stated, in_programme, key)
        return ColumnUnit(in_programme, said_by if is_repeated else "programme", stated, notice)
    if stated is None or stated.unit is None:
        return ColumnUnit(None, "cells", stated)
    return ColumnUnit(stated.unit, said_by, stated)


def _contradiction(column: Column, stated: HeaderUnit | None, in_programme: str, key: str) -> str:
    """Return a notice where the header has a unit of another dimension; stop where it has another unit."""
    if stated is None:
        return ""
    setting = f'{key} = "{in_programme}"'
    possible = (stated.unit,) if stated.unit else stated.could_be
    if not possible:
        dimension = DIMENSION_OF_UNIT[column.unit.lower()]
        return f'has the unit "{stated.written}" in its header, which is not a unit of {dimension}; {setting} is used.'
    if any(same_unit(in_programme, unit) for unit in possible):
        return ""
    raise UnusableColumnError(
        f'has the unit "{stated.written}" in its header, but the programme file has {setting}',
        f"Set {key} to {_quoted(possible)}; if the header is wrong, correct it in the file.",
    )


def missing_unit(column: Column, unit: ColumnUnit, example: str, key: str) -> UnusableColumnError:
    """Return the error for a column of bare numbers whose unit is not known; it proposes none that the header excludes.

    Parameters
    ----------
    column
        The column of the contract.
    unit
        What is known of its unit.
    example
        One of its cells.
    key
        The programme's key for its unit.
    """
    dimension = DIMENSION_OF_UNIT[column.unit.lower()]
    found, stated = f"has bare numbers such as {example!r}", unit.stated
    choose = f"Set {key} to the unit of these numbers: one of {units_of(dimension)}."
    if stated is None:
        return UnusableColumnError(found, choose)
    if stated.could_be:
        meanings = " or ".join(stated.could_be)
        return UnusableColumnError(
            f'{found}, and its header says "{stated.written}", which may be {meanings}',
            f"Set {key} to {_quoted(stated.could_be)}.",
        )
    return UnusableColumnError(
        f'{found}, and its header says "{stated.written}", which is not a unit of {dimension}',
        f"Choose another column for `{column.short}`. If it is the right one, s{choose[1:]}",
    )


def _quoted(units: tuple[str, ...]) -> str:
    return " or ".join(f'"{unit}"' for unit in units)
