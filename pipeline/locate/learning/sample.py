"""Which cores of a register are learnt from: evenly spread ones, and enough of each batch."""

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.locate.learning.apart import LEAST_BATCH

__all__ = ["Subjects", "learnt_from", "sample_of"]

Rows = npt.NDArray[np.bool_]

# cores that a register, and one of its batches, are learnt from; more change the shares by less than they matter
_MOST_OF_REGISTER: Final = 6000
_MOST_OF_BATCH: Final = 1500


class Subjects(NamedTuple):
    """N cores, as far as errors are told apart by them.

    ``register`` and ``keys``: N names, and N rows of what may have an error of its own, such as the crew. ``learns``:
    N, whether nobody stated the core's accuracy, and a line lies within its reach.
    """

    register: npt.NDArray[np.object_]
    keys: pd.DataFrame
    learns: Rows

    def each_register(self) -> Iterator[tuple[str, Rows]]:
        """Yield the name of each register that is learnt from, and which cores are its own."""
        for name in sorted(set(self.register[self.learns].tolist())):
            yield str(name), self.learns & (self.register == name)


def learnt_from(subjects: Subjects) -> Rows:
    """Return which of N cores errors are learnt from: of a large register some are enough."""
    chosen = np.zeros(len(subjects.learns), dtype=bool)
    for _, mine in subjects.each_register():
        chosen |= sample_of(subjects.keys, mine)[0]
    return chosen


def sample_of(keys: pd.DataFrame, mine: Rows) -> tuple[Rows, Rows]:
    """Return which of N cores are learnt from, and which of them stand for the whole register.

    Parameters
    ----------
    keys
        N rows of what may have an error of its own.
    mine
        N, which are the register's.
    """
    whole = _spread(mine, _MOST_OF_REGISTER)
    chosen = whole.copy()
    for key in keys:
        codes, names = pd.factorize(keys[key].where(mine))
        count = np.bincount(codes[codes >= 0], minlength=len(names))
        for code in np.flatnonzero(count >= LEAST_BATCH):
            chosen |= _spread(codes == code, _MOST_OF_BATCH)
    return chosen, whole


def _spread(cores: Rows, most: int) -> Rows:
    """Return at most so many of the marked cores, evenly spread over their order."""
    at = np.flatnonzero(cores)
    if len(at) <= most:
        return cores
    kept = np.zeros_like(cores)
    kept[at[np.linspace(0, len(at) - 1, most).round().astype(np.intp)]] = True
    return kept
