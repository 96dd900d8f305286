"""What the failures among the cores inspected say about the others: exact intervals."""

from typing import Final

from scipy import stats

from pipeline.acceptance import first_count
from pipeline.errors import SettingsError

__all__ = ["CONFIDENCE", "bad_in_lot", "true_rate"]

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
    interval = stats.binomtest(failed, inspected).proportion_ci(confidence, method="exact")
    return float(interval.low), float(interval.high)


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


def _refuse_counts(failed: int, inspected: int, lot: int, confidence: float) -> None:
    if not 0 <= failed <= inspected <= lot or inspected < 1:
        raise SettingsError(
            f"found {failed} failures among {inspected} cores inspected of {lot}; expected one core inspected or more, "
            "no more failures than that, and no more inspected than the lot holds."
        )
    if not 0 < confidence < 1:
        raise SettingsError(f"found a confidence of {confidence:g}, expected one above 0 and below 1.")
