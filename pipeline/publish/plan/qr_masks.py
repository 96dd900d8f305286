"""How much each of many QR symbols is marked down under a mask (ISO/IEC 18004, 7.8.3): the least marked is drawn."""

from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = ["mask_scores"]

Words = npt.NDArray[np.uint32]
Marks = npt.NDArray[np.int64]
# a finder's ratio, 1 : 1 : 3 : 1 : 1 modules, and how many light ones have to be before or behind it
_FINDER: Final = "1011101"
_LIGHT: Final = 4
# a run of so many modules of one colour is marked
_RUN: Final = 5


def mask_scores(rows: Words, columns: Words, side: int) -> Marks:
    """Return the marks of N symbols.

    Parameters
    ----------
    rows, columns
        N x ``side`` lines of modules as numbers, whose lowest bit is the last module.
    side
        Modules a side.
    """
    dark = np.bitwise_count(rows).sum(axis=1, dtype=np.int64)
    marks: Marks = 3 * np.bitwise_count(_blocks(rows, side)).sum(axis=1, dtype=np.int64)
    for lines in (rows, columns):
        marks += _runs(lines, side) + _finders(lines, side)
    # each 5 % away from a half
    marks += 10 * (np.abs(dark / side**2 * 100 - 50) / 5).astype(np.int64)
    return marks


def _same(lines: Words, side: int) -> Words:
    """Return where a module has the colour of the one before it."""
    same: Words = ~(lines ^ lines >> np.uint32(1)) & np.uint32((1 << side - 1) - 1)
    return same


def _runs(lines: Words, side: int) -> Marks:
    """Return the marks of runs of one colour: 3 for five modules, and 1 for each more."""
    same = _same(lines, side)
    ends = same
    for step in range(1, _RUN - 1):
        ends = ends & same >> np.uint32(step)
    first = ends & ~(ends << 1)
    marks: Marks = (np.bitwise_count(ends) + 2 * np.bitwise_count(first)).sum(axis=1, dtype=np.int64)
    return marks


def _blocks(rows: Words, side: int) -> Words:
    """Return where four modules in a square have one colour."""
    same, above = _same(rows, side), ~(rows[:, 1:] ^ rows[:, :-1])
    blocks: Words = same[:, 1:] & same[:, :-1] & above
    return blocks


def _finders(lines: Words, side: int) -> Marks:
    """Return the marks of what looks like a finder: 40 for each, of those that share modules the first alone."""
    size = len(_FINDER)
    found = np.full(lines.shape, (1 << side - size + 1) - 1, np.uint32)
    for step, is_dark in enumerate(reversed(_FINDER)):
        moved = lines >> step
        found &= moved if is_dark == "1" else ~moved
    # what is beyond the edge is light: bit k of both is about the pattern whose last module is k
    before, behind = np.full_like(found, -1 & 0xFFFFFFFF), np.full_like(found, -1 & 0xFFFFFFFF)
    for step in range(_LIGHT):
        before &= ~(lines >> size + step)
        behind &= ~(lines << step + 1)
    found &= before | behind
    # they share modules where they start four or six modules apart
    shared = np.flatnonzero((found & (found << 4 | found << 6)).any(axis=1))
    some = found[shared]
    for place in reversed(range(side - size + 1)):
        bit = np.uint32(1 << place)
        some &= ~(bit * ((some >> place + 4 | some >> place + 6) & 1))
    found[shared] = some
    marks: Marks = 40 * np.bitwise_count(found).sum(axis=1, dtype=np.int64)
    return marks
