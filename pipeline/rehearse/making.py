"""What a kind of fault is, and the ways in which one is made from the cells of a register."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
import pandas as pd

from pipeline.rehearse import slips

__all__ = [
    "Given", "Kind", "changed", "changed_at_random", "cut_digits", "exchanged", "from_above", "in_other_unit",
    "of_another", "other_year", "replaced", "row_above", "scaled", "shift_cells", "use_other_grid", "where_written_in",
]  # fmt: skip


class Given(NamedTuple):
    """What a fault may be made from, besides the N cells that it spoils.

    ``rng``: source of the random numbers. ``all_cells``: every row of the register. ``above``: N rows, each the nearest
    one above that is not spoiled itself. ``grid``: N rows with ``x`` and ``y`` as somebody with another coordinate
    system would have written them, and ``is_degrees``.
    """

    rng: np.random.Generator
    all_cells: pd.DataFrame
    above: pd.DataFrame
    grid: pd.DataFrame


Cells = pd.DataFrame
Slip = Callable[[Cells, Given], Cells]


@dataclass(frozen=True)
class Kind:
    """One kind of fault.

    ``name``: its key in the words file. ``group``: its heading there. ``spoils``: the columns of the register that it
    changes, each of which a row must fill in; ``x`` and ``y`` are the two numbers of the position. ``rules``: those
    that know it; none if no rule does. ``slip``: returns N spoiled rows from N rows. ``has_size``: it moves the core by
    more or less, so that it is planted more often, and counted by the metres. ``has_partner``: the row above is part of
    the fault, and may rightly be blamed.
    """

    name: str
    group: str
    spoils: tuple[str, ...]
    rules: tuple[str, ...]
    slip: Slip
    has_size: bool = False
    has_partner: bool = False


def changed(change: Callable[[pd.Series], pd.Series], *columns: str) -> Slip:
    """Return a slip that changes each of some columns in the same way."""
    return lambda cells, _: cells.assign(**{name: change(cells[name]) for name in columns})


def changed_at_random(column: str, change: Callable[[pd.Series, np.random.Generator], pd.Series]) -> Slip:
    """Return a slip at a random place of a cell."""
    return lambda cells, given: cells.assign(**{column: change(cells[column], given.rng)})


def replaced(text: str | None, *columns: str) -> Slip:
    """Return a slip that writes one text into some columns, or leaves them blank."""
    return lambda cells, _: cells.assign(**{name: pd.Series(text, cells.index, dtype="str") for name in columns})


def scaled(column: str, factor: float) -> Slip:
    """Return a slip that multiplies a number."""
    return changed(lambda texts: slips.scale(texts, factor), column)


def other_year(column: str, years: int) -> Slip:
    """Return a slip of the year of a date."""
    return changed(lambda texts: slips.shift_year(texts, years), column)


def of_another(column: str) -> Slip:
    """Return a slip that writes what the register has in another row."""
    return lambda cells, given: cells.assign(
        **{column: slips.other_of(cells[column], given.all_cells[column], given.rng)}
    )


def exchanged(one: str, other: str) -> Slip:
    """Return a slip that exchanges two cells of a row."""
    return lambda cells, _: cells.assign(**{one: cells[other], other: cells[one]})


def from_above(*columns: str) -> Slip:
    """Return a slip that fills cells down from the row above."""
    return lambda cells, given: cells.assign(**{name: given.above[name].to_numpy() for name in columns})


def row_above(*, keeps_id: bool) -> Slip:
    """Return a slip that copies the row above, with its id or without."""

    def copied(cells: Cells, given: Given) -> Cells:
        row = given.above.set_axis(cells.index)
        return row.assign(core_id=cells["core_id"]) if keeps_id else row

    return copied


def shift_cells(cells: Cells, given: Given) -> Cells:
    """Move the cells of each row one column on from a random one, which is left blank; the last cell is lost."""
    names = [name for name in cells.columns if name != "core_id"]
    table, wide = cells[names].to_numpy(dtype=object), len(names)
    at = given.rng.integers(0, max(wide * 2 // 3, 1), len(cells))[:, None]
    places = np.broadcast_to(np.arange(wide), table.shape)
    moved = np.take_along_axis(table, np.where(places > at, places - 1, places), axis=1)
    moved[places == at] = None
    return cells.assign(**{name: pd.Series(moved[:, n], cells.index, dtype="str") for n, name in enumerate(names)})


def where_written_in(unit: Literal["degrees", "metres"], change: Callable[[pd.Series], pd.Series]) -> Slip:
    """Return a slip of both numbers of a position where the register has degrees alone, or metres or feet alone."""

    def change_there(cells: Cells, given: Given) -> Cells:
        able = given.grid["is_degrees"].eq(unit == "degrees")
        return cells.assign(**{name: change(cells[name]).where(able, cells[name]) for name in ("x", "y")})

    return change_there


def use_other_grid(cells: Cells, given: Given) -> Cells:
    """Write a position as somebody with another coordinate system would have."""
    return cells.assign(x=given.grid["x"], y=given.grid["y"])


def cut_digits(cells: Cells, given: Given) -> Cells:
    """Cut degrees to three decimals, 70 to 110 m, and metres or feet to whole hundreds."""
    able = given.grid["is_degrees"]
    return cells.assign(
        **{
            name: slips.cut_decimals(cells[name], 3).where(able, slips.cut_decimals(cells[name], -2))
            for name in ("x", "y")
        }
    )


def in_other_unit(column: str, factor: float, offset: float, least: float) -> Slip:
    """Return a slip of the unit: a number in the smaller unit is written in the larger one, or the other way round.

    ``factor`` and ``offset`` lead from the one to the other where the middle of the column is ``least`` or more, and
    back where it is less.
    """

    def change(cells: Cells, given: Given) -> Cells:
        middle = pd.to_numeric(given.all_cells[column], errors="coerce").median()
        ways = (factor, offset) if not middle < least else (1 / factor, -offset / factor)
        return cells.assign(**{column: slips.scale(cells[column], *ways)})

    return change
