"""What the failures among the cores inspected say about the others: exact intervals."""

from bisect import bisect_left
from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import stats

from pipeline.errors import SettingsError

__all__ = ["CONFIDENCE", "bad_in_lot", "first_count", "true_rate", "true_rates"]

CONFIDENCE: Final = 0.95


def true_rate(failed: int, inspected: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Return an exact interval on the rate that failures come from (Clopper and Pearson).

    Parameters
    ----------
    failed, inspected
        Failures among the cores inspected; 1 or more inspected.
    confidence
        Probability, above 0 and below 1, that an interval holds the true rate, at least.

    Raises
    ------
    SettingsError
        A count or the confidence is out of its range.
    """
    _refuse_counts(failed, inspected, inspected, confidence)
    low, high = true_rates([failed], [inspected], confidence)
    return float(low[0]), float(high[0])


def true_rates(
    failed: npt.ArrayLike, inspected: npt.ArrayLike, confidence: float = CONFIDENCE
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return the lower and upper ends of exact intervals for whole columns of counts.

    Parameters
    ----------
    failed, inspected
        N counts each, no more failures than inspected and 1 or more inspected; they are not looked over.
    confidence
        Probability, above 0 and below 1, that each interval by itself holds its true rate, at least.

    Notes
    -----
    The ends of Clopper and Pearson (Biometrika 26, 1934) are quantiles of beta distributions; with no failure the
    lower end is 0, with nothing but failures the upper is 1.
    """
    bad, among = np.asarray(failed, dtype=np.float64), np.asarray(inspected, dtype=np.float64)
    tail = (1 - confidence) / 2
    low = stats.beta.ppf(tail, np.maximum(bad, 1), among - bad + 1)
    high = stats.beta.isf(tail, bad + 1, np.maximum(among - bad, 1))
    return np.where(bad == 0, 0.0, low), np.where(bad == among, 1.0, high)


def bad_in_lot(failed: int, inspected: int, lot: int, confidence: float = CONFIDENCE) -> tuple[int, int]:
    """Return an exact interval on the number of bad cores in a finite lot (hypergeometric, two equal tails).

    Parameters
    ----------
    failed, inspected
        Failures among the cores inspected, drawn without replacement.
    lot
        Cores in the lot.
    confidence
        Probability, above 0 and below 1, that an interval holds the true number, at least.

    Returns
    -------
    tuple
        Fewest and most bad cores, those found among them, with which the failures found are not too unlikely.

    Raises
    ------
    SettingsError
        A count or the confidence is out of its range.
    """
    _refuse_counts(failed, inspected, lot, confidence)
    tail = (1 - confidence) / 2
    least, most = failed, lot - (inspected - failed)
    counts = range(least, most + 1)
    low = first_count(counts, lambda bad: float(stats.hypergeom.sf(failed - 1, lot, bad, inspected)) > tail)
    beyond = first_count(counts, lambda bad: float(stats.hypergeom.cdf(failed, lot, bad, inspected)) <= tail)
    return least + low, least + beyond - 1


def first_count(counts: range, holds: Callable[[int], bool]) -> int:
    """Return the place of the first count that a condition holds for, if it holds for all beyond; found by halving."""
    return bisect_left(counts, 1, key=holds)


def _refuse_counts(failed: int, inspected: int, lot: int, confidence: float) -> None:
    if not 0 <= failed <= inspected <= lot or inspected < 1:
        raise SettingsError(
            f"found {failed} failures among {inspected} cores inspected of {lot}; expected one core inspected or more, "
            "no more failures than that, and no more inspected than the lot holds."
        )
    if not 0 < confidence < 1:
        raise SettingsError(f"found a confidence of {confidence:g}, expected one above 0 and below 1.")
