"""Uneven use: whether some cores took more grout than the model by more than others took less.

Grout thrown away is never less than none, so waste that differs from core to core makes the scatter lopsided: beside
the even scatter there is a share that has an exponential distribution (the composed error of Meeusen and van den
Broeck, 1977). So do holes that are wider in places, and the two are the same litres, so the same records. Waste that is
alike at every core leaves no trace at all. The share found is therefore no correction: the lower ends of the intervals
allow for it, as for waste, and it is reported, with what to measure.
"""

from typing import Final

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit, log_ndtr, ndtr

from pipeline.calibrate.habits import LEAD
from pipeline.calibrate.likelihood import BED_MM, KERF_MM, SCATTER, Array, Fit, Records, distinct_records

__all__ = ["uneven_share"]

# the mean of the lopsided share; below the least there is none
_SHARE: Final = (1e-4, 0.5)
_START: Final = 0.05
_MISTAKES: Final = (-6.0, 0.0)
_LEAST_VARIANCE: Final = 0.01


def uneven_share(records: Records, fit: Fit) -> float:
    """Return the mean of the lopsided share; 0 where the records do not show one.

    Parameters
    ----------
    records
        N records, each of weight 1.
    fit
        What was fitted to them, with an even scatter; missing values where they are too few.
    """
    if np.isnan(fit.scatter):
        return 0.0
    few = distinct_records(records)
    (kk, kb), _ = fit.covariance
    # millimetres of bed that make up for one of kerf
    trade = -kb / max(kk, _LEAST_VARIANCE)
    kerf, bed = fit.kerf_mm[0], fit.bed_mm[0]

    def unlikely(at: Array) -> float:
        thick = at[1] - trade * (at[0] - kerf)
        if thick < 0:
            return float(1e3 - thick)
        scatter, share = (float(np.exp(one)) for one in (at[2], at[3]))
        right = _right(few, float(at[0]), float(thick), scatter, share)
        mistakes = float(expit(at[4]))
        mistaken = (few.to_l - few.from_l) / few.to_l.max()
        chance = (1 - mistakes) * np.maximum(right, 0.0) + mistakes * mistaken
        return float(-(np.log(chance) @ few.weight) / few.weight.sum())

    least, most = np.log(_SHARE)
    odds = float(np.clip(np.log(max(fit.mistakes, 1e-3) / max(1 - fit.mistakes, 1e-3)), *_MISTAKES))
    found = []
    for share, ends in ((_SHARE[0], (least, least)), (_START, (least, most))):
        start = (kerf / (1 + share), bed / (1 + share), np.log(max(fit.scatter, SCATTER[0])), np.log(share), odds)
        bounds = [KERF_MM, (BED_MM[0] - BED_MM[1], 2 * BED_MM[1]), tuple(np.log(SCATTER)), ends, _MISTAKES]
        found.append(minimize(unlikely, start, method="L-BFGS-B", bounds=bounds))
    even, lopsided = found
    lead = (even.fun - lopsided.fun) * few.weight.sum()
    return float(np.exp(lopsided.x[3])) if lead >= LEAD else 0.0


def _right(records: Records, kerf_mm: float, bed_mm: float, scatter: float, share: float) -> Array:
    """Return the likelihood of each record: a normal share of the litres plus an exponential one."""
    wet = np.maximum(records.wet_l(kerf_mm, bed_mm), 1e-6)
    low, high = (_below(one / wet - 1, scatter, share) for one in (records.from_l, records.to_l))
    right: Array = high - low
    return right


def _below(beside: Array, scatter: float, share: float) -> Array:
    """Return how likely the sum of a normal and an exponential share is below each of N shares."""
    even = ndtr(beside / scatter)
    if share <= _SHARE[0]:
        return np.asarray(even)
    tail = scatter**2 / (2 * share**2) - beside / share + log_ndtr(beside / scatter - scatter / share)
    return np.asarray(np.clip(even - np.exp(np.minimum(tail, 0.0)), 0.0, 1.0))
