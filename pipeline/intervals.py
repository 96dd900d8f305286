"""Exact confidence intervals: what the failures among inspected cores say about the others."""

from bisect import bisect_left
from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import betainccinv, betaincinv

from pipeline.errors import SettingsError

__all__ = ["CONFIDENCE", "bad_in_lot", "first_count", "true_rate", "true_rates"]

CONFIDENCE: Final = 0.95


def true_rate(failed: int, inspected: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Return an exact interval for the true failure rate (Clopper and Pearson).

    Parameters
    ----------
    failed, inspected
        Failures among the cores inspected; at least one core inspected.
    confidence
        Least probability, above 0 and below 1, that an interval contains the true rate.

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
        N counts each, not checked: no more failures than inspected, and at least one inspected.
    confidence
        Least probability, above 0 and below 1, that each interval by itself contains its true rate.

    Notes
    -----
    The ends of Clopper and Pearson (Biometrika 26, 1934) are quantiles of beta distributions. Without a failure the
    lower end is 0; with failures only, the upper end is 1.
    """
    bad, among = np.asarray(failed, dtype=np.float64), np.asarray(inspected, dtype=np.float64)
    tail = (1 - confidence) / 2
    low = betaincinv(np.maximum(bad, 1), among - bad + 1, tail)
    high = betainccinv(bad + 1, np.maximum(among - bad, 1), tail)
    return np.where(bad == 0, 0.0, low), np.where(bad == among, 1.0, high)


def bad_in_lot(failed: int, inspected: int, lot: int, confidence: float = CONFIDENCE) -> tuple[int, int]:
    """Return an exact interval for the number of bad cores in a finite lot (hypergeometric, two equal tails).

    Parameters
    ----------
    failed, inspected
        Failures among the cores inspected, drawn without replacement.
    lot
        Cores in the lot.
    confidence
        Least probability, above 0 and below 1, that an interval contains the true number.

    Returns
    -------
    tuple
        The fewest and the most bad cores, found ones included, for which this many failures are not too unlikely.

    Raises
    ------
    SettingsError
        A count or the confidence is out of its range.
    """
    from scipy.stats import hypergeom  # noqa: PLC0415 - half a second to load, and an audit does without it

    _refuse_counts(failed, inspected, lot, confidence)
    tail = (1 - confidence) / 2
    least, most = failed, lot - (inspected - failed)
    counts = range(least, most + 1)
    low = first_count(counts, lambda bad: float(hypergeom.sf(failed - 1, lot, bad, inspected)) > tail)
    beyond = first_count(counts, lambda bad: float(hypergeom.cdf(failed, lot, bad, inspected)) <= tail)
    return least + low, least + beyond - 1


def first_count(counts: range, holds: Callable[[int], bool]) -> int:
    """Return the position of the first count that meets a condition that all later ones meet too, by bisection."""
    return bisect_left(counts, 1, key=holds)


def _refuse_counts(failed: int, inspected: int, lot: int, confidence: float) -> None:
    if not 0 <= failed <= inspected <= lot or inspected < 1:
        raise SettingsError(
            f"found {failed} failures among {inspected} cores inspected of {lot}; expected at least one core "
            "inspected, no more failures than cores inspected, and no more cores inspected than the lot holds."
        )
    if not 0 < confidence < 1:
        raise SettingsError(f"found a confidence of {confidence:g}, expected a number above 0 and below 1.")
