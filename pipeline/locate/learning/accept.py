"""Whether a learnt mixture explains streets that it has not seen better than another one does."""

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

__all__ = ["FOLDS", "Gain", "folds_of", "gain_of", "held_out", "numbered"]

Floats = npt.NDArray[np.float64]

FOLDS: Final = 5
# standard errors by which the gain has to differ from nothing
_ERRORS: Final = 2.0


class Gain(NamedTuple):
    """By how much one mixture explains N cores better than another: log likelihood per core, and its standard error."""

    mean: float
    error: float

    @property
    def is_sure(self) -> bool:
        """Whether the gain is more than two standard errors above zero."""
        return self.error > 0 and self.mean > _ERRORS * self.error


def folds_of(street: npt.NDArray[np.intp]) -> npt.NDArray[np.intp]:
    """Return the fold of each of N cores: all cores of a street are in one, and folds hold about equally many."""
    count = np.bincount(street)
    fold = np.empty(len(count), dtype=np.intp)
    full = np.zeros(FOLDS, dtype=np.int64)
    for number in np.argsort(-count, kind="stable"):
        fold[number] = int(np.argmin(full))
        full[fold[number]] += count[number]
    return fold[street]


def numbered(street: npt.NDArray[np.intp]) -> npt.NDArray[np.intp]:
    """Return the numbers of N streets without gaps."""
    numbers: npt.NDArray[np.intp] = np.unique(street, return_inverse=True)[1]
    return numbers


def gain_of(difference: Floats, street: npt.NDArray[np.intp]) -> Gain:
    """Return the mean difference of N log likelihoods; what is unusual about a street counts once.

    The standard error is that of a mean of clusters: the root of the summed squares of the streets' deviations.
    """
    count = len(difference)
    if not count:
        return Gain(0.0, 0.0)
    mean = float(difference.mean())
    of_streets = np.bincount(street, difference - mean)
    streets = int((np.bincount(street) > 0).sum())
    if streets < 2:
        return Gain(mean, 0.0)
    error = float(np.sqrt(streets / (streets - 1) * (of_streets**2).sum())) / count
    return Gain(mean, error)


def held_out(
    cores: npt.NDArray[np.bool_],
    fold: npt.NDArray[np.intp],
    fit_and_score: Callable[[int, npt.NDArray[np.bool_], npt.NDArray[np.bool_]], Floats],
) -> Floats:
    """Return the scores of the marked cores, each under what was learnt without its fold.

    ``fit_and_score`` gets the fold, which cores to learn from and which to score, and returns the scores of the latter.
    """
    scores = np.full(len(cores), np.nan)
    for number in range(FOLDS):
        to_score = cores & (fold == number)
        if to_score.any():
            scores[to_score] = fit_and_score(number, cores & (fold != number), to_score)
    return scores[cores]
