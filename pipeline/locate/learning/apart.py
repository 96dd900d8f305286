"""By what the cores of a register differ in their errors: the method, the contractor or the crew."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.locate.learning.accept import FOLDS, gain_of, held_out, numbered
from pipeline.locate.learning.fit import Batch, Mixture, fit, score

__all__ = ["LEAST_BATCH", "PULL", "Apart", "tell_apart", "without_each_fold"]

Floats = npt.NDArray[np.float64]
Rows = npt.NDArray[np.bool_]

# at 60 cores a crew of its own lost accuracy on a dense network
LEAST_BATCH: Final = 150
# how many cores the register's shares are worth to a batch
PULL: Final = 50.0


class Apart(NamedTuple):
    """By what N cores differ most surely: ``key`` is "" where by nothing.

    ``groups``: which cores are in each group that has enough of them. ``gained``: what telling the groups apart adds to
    the log likelihood of each core, on streets that were not learnt from.
    """

    key: str
    groups: dict[str, Rows]
    gained: Floats


def without_each_fold(batch: Batch, cores: Rows, fold: npt.NDArray[np.intp]) -> list[Mixture]:
    """Return what the marked cores tell without each of the folds."""
    return [fit(batch.of(cores & (fold != number))) for number in range(FOLDS)]


def tell_apart(
    keys: pd.DataFrame,
    batch: Batch,
    wholes: list[Mixture],
    fold: npt.NDArray[np.intp],
    street: npt.NDArray[np.intp],
) -> Apart:
    """Return by what the cores of a register differ most surely.

    Parameters
    ----------
    keys
        N rows of what may have an error of its own.
    batch
        The N cores.
    wholes
        What the register tells without each of the folds.
    fold, street
        N numbers; all cores of a street are in one fold.
    """
    best = Apart("", {}, np.zeros(len(keys)))
    groups_by_key = {str(key): groups for key in keys if (groups := _groups_of(keys[key]))}
    if not groups_by_key:
        return best
    # fitted as the groups are: else a second fit alone would look like a gain of telling them apart
    wholes = [fit(batch.of(fold != number), whole, PULL) for number, whole in enumerate(wholes)]

    def fit_and_score(number: int, learn_from: Rows, to_score: Rows) -> Floats:
        apart = fit(batch.of(learn_from), wholes[number], PULL)
        return score(batch.of(to_score), apart) - score(batch.of(to_score), wholes[number])

    for key, groups in groups_by_key.items():
        gained = np.zeros(len(keys))
        for own in groups.values():
            gained[own] = held_out(own, fold, fit_and_score)
        among = np.logical_or.reduce(list(groups.values()))
        if gain_of(gained[among], numbered(street[among])).is_sure and gained.sum() > best.gained.sum():
            best = Apart(key, groups, gained)
    return best


def _groups_of(names: pd.Series) -> dict[str, Rows]:
    """Return which cores have each name that enough of them have; none where all have one name."""
    codes, distinct = pd.factorize(names)
    count = np.bincount(codes[codes >= 0], minlength=len(distinct))
    groups = {str(distinct[code]): codes == code for code in np.flatnonzero(count >= LEAST_BATCH).tolist()}
    return {} if len(groups) == 1 and next(iter(groups.values())).all() else groups
