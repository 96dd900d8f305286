"""One batch of faults planted into a copy of the cells."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.rehearse.draw import Batch, given_for, rows_above
from pipeline.rehearse.making import Kind
from pipeline.rehearse.sheet import Sheet

__all__ = ["Planted", "plant"]

_ARROW = " \N{RIGHTWARDS ARROW} "
_BLANK = "(blank)"


@dataclass(frozen=True)
class Planted:
    """N faults.

    ``rows``, ``kinds``: as in the batch, without those that could not be made. ``after``: the cells of these rows.
    ``partners``: rows that are part of a fault without being spoiled: the row above that was copied, and those whose
    id another row got. ``written``: the spoiled cells before and after, to be read.
    """

    rows: npt.NDArray[np.intp]
    kinds: npt.NDArray[np.intp]
    after: pd.DataFrame
    partners: npt.NDArray[np.intp]
    written: pd.Series

    def part(self, which: slice) -> "Planted":
        """Return some of the faults, with all partners."""
        return Planted(self.rows[which], self.kinds[which], self.after[which], self.partners, self.written[which])


def plant(sheet: Sheet, batch: Batch, kinds: Sequence[Kind], rng: np.random.Generator) -> Planted:
    """Return the faults of a batch as cells; nothing is written into the register."""
    before = sheet.cells.iloc[batch.rows]
    after = before.copy()
    written = pd.Series("", before.index, dtype="str")
    partners = []
    for number in np.unique(batch.kinds):
        kind, mine = kinds[number], batch.kinds == number
        rows = batch.rows[mine]
        spoiled = kind.slip(before[mine], given_for(sheet, rows, batch.rows, rng))[list(before.columns)]
        after = after.where(~pd.Series(mine, before.index), spoiled.reindex(before.index), axis="index")
        written = written.mask(mine, _in_words(kind, before[mine], spoiled).reindex(before.index))
        if kind.has_partner:
            partners.append(rows_above(sheet.part, rows, batch.rows))
    able = sheet.holdable(batch.rows, after)
    new_ids = after["core_id"][able & after["core_id"].ne(before["core_id"]).to_numpy()].dropna()
    same_id = np.flatnonzero(sheet.cells["core_id"].isin(new_ids))
    return Planted(
        rows=batch.rows[able],
        kinds=batch.kinds[able],
        after=after[able],
        partners=np.unique(np.concatenate([same_id, *partners])),
        written=written[able],
    )


def _in_words(kind: Kind, before: pd.DataFrame, after: pd.DataFrame) -> pd.Series:
    """Return the cells that a fault of a kind spoils: "4805 (arrow) 4085", several with semicolons between."""
    pieces = [
        before[name].fillna(_BLANK) + _ARROW + after[name].fillna(_BLANK).set_axis(before.index) for name in kind.spoils
    ]
    whole = pieces[0]
    for piece in pieces[1:]:
        whole = whole + "; " + piece
    return whole
