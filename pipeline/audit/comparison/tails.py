"""How likely a count as high or as low as the observed one is, if a group differs from the others only by chance.

Among alike cores the findings of a group are a hypergeometric count; over several strata they are a sum of such counts.
Each is a sum of independent truths of unequal chances (Vatutin and Mikhailov, Theory Probab. Appl. 27, 1982), which the
binomial with the same mean and variance describes closely, far into its tails too, where the normal approximation of a
Mantel-Haenszel test calls rare findings differences. Counts are divided by the design effect first (Rao and Scott,
Biometrics 48, 1992), as in the intervals of Korn and Graubard (Survey Methodology 24, 1998).
"""

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import stats
from scipy.special import betainc, betaincc, gammainc, gammaincc

from pipeline.intervals import CONFIDENCE

__all__ = ["Numbers", "corrected", "lower_tail", "rate_intervals", "upper_tail"]

Numbers = npt.NDArray[np.float64]
# with a chance this small the binomial is a Poisson
_RARE: Final = 1e-9


def upper_tail(observed: Numbers, mean: Numbers, variance: Numbers, effect: Numbers) -> Numbers:
    """Return for each of N counts the chance of at least as many.

    Parameters
    ----------
    observed
        Counts.
    mean, variance
        Of the counts, if nothing but chance made a difference; ``variance`` without clusters.
    effect
        Design effects, 1 or more.
    """
    chance, size, shared = _binomial(mean, variance, effect)
    count = observed / effect + _half_step(effect)
    within = np.minimum(count, size)
    tail = np.where(
        chance > _RARE,
        betainc(np.maximum(within, _RARE), np.maximum(size - within + 1, _RARE), chance),
        gammainc(np.maximum(count, _RARE), shared),
    )
    return np.where((observed <= 0) | (mean <= 0), 1.0, tail)


def lower_tail(observed: Numbers, mean: Numbers, variance: Numbers, effect: Numbers) -> Numbers:
    """Return for each of N counts the chance of at most as many; the parameters are those of ``upper_tail``."""
    chance, size, shared = _binomial(mean, variance, effect)
    count = np.maximum(observed / effect - _half_step(effect) + 1, _RARE)
    tail = np.where(
        chance > _RARE, betaincc(count, np.maximum(size - count + 1, _RARE), chance), gammaincc(count, shared)
    )
    # at most all there are
    is_most = (chance > _RARE) & (observed / effect >= size * (1 - _RARE))
    return np.where((mean <= 0) | is_most, 1.0, tail)


def _half_step(effect: Numbers) -> Numbers:
    """Return how much closer two counts are, once divided, than the whole numbers that the tails are made for."""
    return (1 - 1 / effect) / 2


def _binomial(mean: Numbers, variance: Numbers, effect: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    """Return chance and size of the binomial with these moments, and the mean, of counts divided by their effects."""
    chance = np.clip(1 - variance / np.where(mean > 0, mean, 1.0), 0.0, 1.0)
    shared = mean / effect
    return chance, shared / np.maximum(chance, _RARE), shared


def rate_intervals(found: Numbers, at_limit: Numbers, checks: Numbers, effect: Numbers) -> tuple[Numbers, Numbers]:
    """Return the ends of intervals on N shares, with counts divided by their design effects.

    The lower end counts no check at the limit as found, and the upper end counts all of them. A share of no checks has
    no interval.
    """
    tail = (1 - CONFIDENCE) / 2
    with np.errstate(invalid="ignore", divide="ignore"):
        few, many, among = found / effect, (found + at_limit) / effect, checks / effect
        low = stats.beta.ppf(tail, np.maximum(few, _RARE), among - few + 1)
        high = stats.beta.isf(tail, many + 1, np.maximum(among - many, _RARE))
    low, high = np.where(few > 0, low, 0.0), np.where(many < among, high, 1.0)
    return np.where(checks > 0, low, np.nan), np.where(checks > 0, high, np.nan)


def corrected(p: pd.Series) -> pd.Series:
    """Correct N probabilities for being N comparisons (Holm, Scand. J. Statist. 6, 1979); missing ones do not count."""
    rising = p.dropna().sort_values(kind="stable")
    steps = np.arange(len(rising), 0, -1)
    raised = np.minimum(np.maximum.accumulate(rising.to_numpy() * steps), 1.0)
    return pd.Series(raised, rising.index).reindex(p.index)
