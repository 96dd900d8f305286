"""Which faults are planted where: a few in each copy of the register, so that they do not disturb each other."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.audit.outcomes import FOUND
from pipeline.rehearse.making import Given, Kind
from pipeline.rehearse.sheet import Sheet

__all__ = ["MOST_SHARE", "Batch", "draw_batches", "given_for", "plantable"]

# of the rows of a register, how many are spoiled in one audit
MOST_SHARE: Final = 0.05
# a kind that moves cores by more or less is planted so many times as often as another: its sizes are counted apart
_SIZED: Final = 4
_POSITION: Final = frozenset({"x", "y"})
Rows = npt.NDArray[np.intp]


@dataclass(frozen=True)
class Batch:
    """The faults of one audit: N rows by their positions in the register, and the kind of each by its number."""

    rows: Rows
    kinds: Rows


def plantable(
    kinds: Sequence[Kind], sheet: Sheet, cores: pd.DataFrame, outcomes: pd.DataFrame, rng: np.random.Generator
) -> dict[str, Rows]:
    """Return for each kind the rows in which it can be planted.

    A row that is a copy of another core's is left out, and so is one about which a rule that knows the kind has a
    finding already: there it could not gain one.

    Parameters
    ----------
    kinds
        What may be planted.
    sheet
        The cells of N rows.
    cores
        N rows as the audit reads them.
    outcomes
        Of each rule for each of the N rows, before anything is planted.
    rng
        Source of the random numbers.
    """
    found = outcomes.eq(FOUND)
    usable = ~cores["is_copy"].to_numpy()
    is_placed = cores["x_m"].notna().to_numpy()
    places: dict[str, Rows] = {}
    for kind in kinds:
        if not set(kind.spoils) <= set(sheet.cells.columns):
            places[kind.name] = np.zeros(0, dtype=np.intp)
            continue
        known = [name for name in kind.rules if name in found]
        able = usable & sheet.cells[list(kind.spoils)].notna().all(axis="columns").to_numpy()
        able &= ~found[known].any(axis="columns").to_numpy()
        if _POSITION & {*kind.spoils}:
            able &= is_placed
        rows = np.flatnonzero(able)
        spoiled = kind.slip(sheet.cells.iloc[rows], given_for(sheet, rows, rows[:0], rng))
        places[kind.name] = rows[sheet.holdable(rows, spoiled)]
    return places


def given_for(sheet: Sheet, rows: Rows, spoiled: Rows, rng: np.random.Generator) -> Given:
    """Return what faults in some rows may be made from, where ``spoiled`` rows are not to be copied."""
    above = rows_above(sheet.part, rows, spoiled)
    return Given(rng, sheet.cells, sheet.cells.iloc[above], sheet.grid.iloc[rows].set_axis(sheet.cells.index[rows]))


def rows_above(part: Rows, rows: Rows, spoiled: Rows) -> Rows:
    """Return for each row the nearest one above it in its file that is not spoiled, below it if there is none above.

    Where there is none at all it is the row itself.
    """
    places = np.arange(len(part))
    is_free = np.ones(len(part), dtype=bool)
    is_free[spoiled] = False
    last = np.maximum.accumulate(np.where(is_free, places, -1))
    first = np.minimum.accumulate(np.where(is_free, places, len(part))[::-1])[::-1]
    before = np.where(rows > 0, last[rows - 1], -1)
    after = np.append(first, len(part))[rows + 1]
    has_before = (before >= 0) & (part[before] == part[rows])
    has_after = (after < len(part)) & (part[np.minimum(after, len(part) - 1)] == part[rows])
    return np.where(has_before, before, np.where(has_after, after, rows))


def draw_batches(
    kinds: Sequence[Kind], places: Mapping[str, Rows], faults: int, count: int, rng: np.random.Generator
) -> list[Batch]:
    """Return the batches: as many faults of each kind where there are rows for them, and more of kinds with a size.

    Parameters
    ----------
    kinds
        What is planted; a batch names them by their numbers.
    places
        By kind, the rows in which it can be planted.
    faults
        How many faults in all.
    count
        Rows of the register.
    rng
        Source of the random numbers.
    """
    by_number = [places[kind.name] for kind in kinds]
    able = np.array(
        [n for n, kind in enumerate(kinds) if len(by_number[n]) for _ in range(_SIZED if kind.has_size else 1)],
        dtype=np.intp,
    )
    if not len(able):
        return []
    wanted = rng.permutation(np.resize(rng.permutation(able), faults))
    most = max(int(count * MOST_SHARE), 1)
    return [
        batch
        for start in range(0, faults, most)
        if len((batch := _batch(wanted[start : start + most], by_number, count, rng)).rows)
    ]


def _batch(wanted: Rows, places: Sequence[Rows], count: int, rng: np.random.Generator) -> Batch:
    """Return one batch: rows for the kinds that are wanted, each row once."""
    is_taken = np.zeros(count, dtype=bool)
    rows, kinds = [], []
    # a kind with few rows chooses first
    for number in sorted({*wanted.tolist()}, key=lambda one: (len(places[one]), one)):
        free = places[number][~is_taken[places[number]]]
        chosen = rng.permutation(free)[: int((wanted == number).sum())]
        is_taken[chosen] = True
        rows.append(chosen)
        kinds.append(np.full(len(chosen), number, dtype=np.intp))
    order = np.argsort(np.concatenate(rows), kind="stable")
    return Batch(np.concatenate(rows)[order], np.concatenate(kinds)[order])
