"""How likely a count as high or as low as the observed one is, if a group differs from the others only by chance.

Among alike cores the findings of a group are a hypergeometric count; over several strata they are a sum of such counts.
Each is a sum of independent truths of unequal chances (Vatutin and Mikhailov, Theory Probab. Appl. 27, 1982). The
binomial of the same mean, variance and largest count, in steps of its own, describes the sum closely. It does so far
into its tails too, where the normal approximation of a Mantel-Haenszel test calls rare findings differences. Counts are
divided by the design effect first (Rao and Scott, Biometrics 48, 1992), as in the intervals of Korn and Graubard
(Survey Methodology 24, 1998). A design effect that few clusters show is uncertain itself: tails are those of Student's
t with the degrees of freedom of the clusters, in place of the normal distribution's.
"""

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import betainc, betaincc, betainccinv, betaincinv, ndtri, stdtr, stdtrit

from pipeline.intervals import CONFIDENCE

__all__ = ["Numbers", "corrected", "lower_tail", "rate_intervals", "upper_tail", "with_few_clusters"]

Numbers = npt.NDArray[np.float64]
# in place of nothing, where nothing would have no logarithm
_LEAST: Final = 1e-9


def upper_tail(observed: Numbers, mean: Numbers, variance: Numbers, most: Numbers, effect: Numbers) -> Numbers:
    """Return for each of N counts the chance of at least as many.

    Parameters
    ----------
    observed
        Counts.
    mean, variance, most
        Of the counts, if nothing but chance made a difference; ``variance`` without clusters, ``most`` the largest
        that they could be. Without variance nothing is said, and the chance is 1.
    effect
        Design effects, 1 or more.
    """
    is_free, chance, step = _steps(mean, variance, most)
    step = step * effect
    # half a count below the observed one
    count = np.maximum((observed - 0.5) / step + 0.5, _LEAST)
    tail = betainc(count, np.maximum(most / step - count + 1, _LEAST), chance)
    return np.where(is_free & (observed > 0), tail, 1.0)


def lower_tail(observed: Numbers, mean: Numbers, variance: Numbers, most: Numbers, effect: Numbers) -> Numbers:
    """Return for each of N counts the chance of at most as many; the parameters are those of ``upper_tail``."""
    is_free, chance, step = _steps(mean, variance, most)
    step = step * effect
    # half a count above the observed one
    count = np.maximum((observed + 0.5) / step + 0.5, _LEAST)
    tail = betaincc(count, np.maximum(most / step - count + 1, _LEAST), chance)
    return np.where(is_free & (observed < most), tail, 1.0)


def _steps(mean: Numbers, variance: Numbers, most: Numbers) -> tuple[npt.NDArray[np.bool_], Numbers, Numbers]:
    """Return where counts are free to vary, and chance and step of the binomial with these moments and this end."""
    is_free = (variance > _LEAST) & (most > mean)
    chance = np.divide(mean, most, out=np.full(len(mean), 0.5), where=is_free)
    step = np.divide(variance, mean * (1 - chance), out=np.ones(len(mean)), where=is_free)
    return is_free, chance, step


def with_few_clusters(tail: Numbers, degrees: float | Numbers) -> Numbers:
    """Return the chances of N tails if the design effect is known by so many degrees of freedom only."""
    chances: Numbers = stdtr(degrees, ndtri(tail))
    return chances


def rate_intervals(
    found: Numbers, at_limit: Numbers, checks: Numbers, effect: Numbers, degrees: float | Numbers
) -> tuple[Numbers, Numbers]:
    """Return the ends of intervals on N shares, with counts divided by their design effects.

    The lower end counts no check at the limit as found, and the upper end counts all of them. A share of no checks has
    no interval. ``degrees``: degrees of freedom of the design effects.
    """
    tail = (1 - CONFIDENCE) / 2
    effect = effect * (stdtrit(degrees, tail) / ndtri(tail)) ** 2
    with np.errstate(invalid="ignore", divide="ignore"):
        few, many, among = found / effect, (found + at_limit) / effect, checks / effect
        low = betaincinv(np.maximum(few, _LEAST), among - few + 1, tail)
        high = betainccinv(many + 1, np.maximum(among - many, _LEAST), tail)
    low, high = np.where(few > 0, low, 0.0), np.where(many < among, high, 1.0)
    return np.where(checks > 0, low, np.nan), np.where(checks > 0, high, np.nan)


def corrected(p: pd.Series) -> pd.Series:
    """Correct N probabilities for being N comparisons (Holm, Scand. J. Statist. 6, 1979); missing ones do not count."""
    rising = p.dropna().sort_values(kind="stable")
    steps = np.arange(len(rising), 0, -1)
    raised = np.minimum(np.maximum.accumulate(rising.to_numpy() * steps), 1.0)
    return pd.Series(raised, rising.index).reindex(p.index)
