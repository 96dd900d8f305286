"""How each crew rounds the bags that it records: up, to the nearest or down, judged by likelihood.

Half a step up or down is as much as several millimetres of bed, so of crews alike, whose holes are all of one size, no
record can tell how they round. Three things can: a crew that reads a scale, beside which the others are seen to round;
holes of several diameters, as a bed grows with their area and a step does not; and a bed that would be below zero.

Kerf, bed and scatter are on one grid. At every node each crew has its own habit, and may use a few percent more or
less grout than the others; summed over the nodes, the habits of all crews are judged at once.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import logsumexp, ndtr

from pipeline.calibrate.likelihood import BED_MM, KERF_MM, SCATTER, Array, Fit, Records, central
from pipeline.calibrate.steps import HABITS

__all__ = ["LEAD", "Judged", "judge_habits"]

# by so much the log-likelihood of a habit must lead that of any other: 150 to 1
LEAD: Final = 5.0
# a crew may use this much more or less grout than the others, as a share
_APART: Final = (-0.04, 0.0, 0.04)
_KERF_NODES: Final = 15
_SCATTER_NODES: Final = 5
_BED_NODES: Final = (41, 121)
# standard errors beyond the outermost fit, and between two nodes of the bed
_BEYOND: Final = 4.0
_APART_SE: Final = 0.6
# of more different records, this many are judged: enough to tell half a step
_MANY: Final = 400
# but of every crew at least
_FEWEST_OF_A_CREW: Final = 30
_COLUMNS: Final = ("hole_mm", "depth_mm", "from_l", "to_l", "weight")
# ends of the intervals in steps from the record, and which of them each habit has
_ENDS: Final = (-1.0, -0.5, 0.0, 0.5, 1.0)
_OF_HABIT: Final = ((0, 2), (1, 3), (2, 4))
_NEAREST: Final = HABITS.index("nearest")
_LEAST_VARIANCE: Final = 0.01
_CHUNK: Final = 200_000


@dataclass(frozen=True)
class Judged:
    """What :func:`judge_habits` returns.

    ``log_odds``: one row per crew, one column per habit, the logarithm of how likely it is beside the likeliest.
    ``fit``: kerf, bed and scatter whichever way the crews round, each way as likely as the records make it.
    """

    log_odds: pd.DataFrame
    fit: Fit


def judge_habits(
    records: Records,
    step_l: Array,
    crew: pd.Series,
    is_portion: npt.NDArray[np.bool_],
    fits: list[Fit],
    mistakes: float,
) -> Judged:
    """Judge how each crew rounds.

    Parameters
    ----------
    records
        M records, read as rounded to the nearest.
    step_l
        M steps, in litres.
    crew
        M names.
    is_portion
        M truths: whether the record is a portion, whose rounding is unknown.
    fits
        The fits of these records, read in each of the ways: they show where to look.
    mistakes
        The share of records that are mistakes.
    """
    kerf, bed, scatter = _nodes(fits)
    codes, names = pd.factorize(crew, sort=True)
    heights = np.zeros((len(kerf), len(names), len(HABITS)))
    apart = _APART if len(names) > 1 else (0.0,)
    most = max(_MANY // len(names), _FEWEST_OF_A_CREW)
    # beside a correct record of chance 1
    wrong = mistakes / (1 - mistakes) * step_l / records.to_l.max()
    for group in range(len(names)):
        these = _some(records, np.flatnonzero(codes == group), most)
        part = replace(records, **{name: getattr(records, name)[these] for name in _COLUMNS})
        nodes = (kerf, bed, scatter)
        heights[:, group] = _heights(part, step_l[these], is_portion[these], nodes, apart, wrong[these])
    mixed = logsumexp(heights, axis=2) - np.log(len(HABITS))
    total = mixed.sum(axis=1)
    odds: Array = logsumexp(total[:, None, None] + heights - mixed[:, :, None], axis=0)
    table = pd.DataFrame(odds - odds.max(axis=1, keepdims=True), index=names, columns=list(HABITS))
    weight = np.exp(total - logsumexp(total))
    return Judged(table, _summed(kerf, bed, scatter, weight, len(records.weight)))


def _nodes(fits: list[Fit]) -> tuple[Array, Array, Array]:
    """Return kerf, bed and scatter of the nodes: all that the fits leave possible, and beyond."""
    middle = fits[_NEAREST]
    (kk, kb), _ = middle.covariance
    trade = -kb / max(kk, _LEAST_VARIANCE)
    across = np.array([fit.bed_mm[0] + trade * (fit.kerf_mm[0] - middle.kerf_mm[0]) for fit in fits])
    se = [np.sqrt(max(one.covariance[1, 1] - trade**2 * one.covariance[0, 0], _LEAST_VARIANCE)) for one in fits]
    reach = _BEYOND * np.array([np.sqrt(fit.covariance[0, 0]) for fit in fits])
    kerfs = np.array([fit.kerf_mm[0] for fit in fits])
    ends = float((across - _BEYOND * np.array(se)).min()), float((across + _BEYOND * np.array(se)).max())
    count = int(np.clip((ends[1] - ends[0]) / (_APART_SE * min(se)), *_BED_NODES))
    scatters = [fit.scatter for fit in fits]
    axes = (
        np.linspace(max((kerfs - reach).min(), KERF_MM[0]), min((kerfs + reach).max(), KERF_MM[1]), _KERF_NODES),
        np.linspace(*ends, count),
        np.geomspace(max(min(scatters) / 2.5, SCATTER[0]), min(max(scatters) * 1.3, SCATTER[1]), _SCATTER_NODES),
    )
    kerf, line, scatter = (one.ravel() for one in np.meshgrid(*axes, indexing="ij"))
    bed = line - trade * (kerf - middle.kerf_mm[0])
    able = (bed >= BED_MM[0]) & (bed <= BED_MM[1])
    return kerf[able], bed[able], scatter[able]


def _some(records: Records, these: npt.NDArray[np.intp], most: int) -> npt.NDArray[np.intp]:
    """Return which of a crew's records are judged: all, or an even choice by size."""
    order = these[np.lexsort((records.to_l[these], records.depth_mm[these], records.hole_mm[these]))]
    chosen: npt.NDArray[np.intp] = order[np.linspace(0, len(order) - 1, min(len(order), most)).round().astype(int)]
    return chosen


def _heights(
    records: Records,
    step_l: Array,
    is_portion: npt.NDArray[np.bool_],
    nodes: tuple[Array, Array, Array],
    apart: tuple[float, ...],
    wrong: Array,
) -> Array:
    """Return the log-likelihood of one crew's records at every node (first axis) under every habit (second)."""
    edges = (records.from_l + records.to_l) / 2 + step_l * np.array(_ENDS)[:, None]
    # of a crew that reads a scale there is one way
    read = _OF_HABIT if is_portion.any() else (_OF_HABIT[_NEAREST],)
    found = np.full((len(apart), len(nodes[0]), len(read)), -np.inf)
    rows = max(_CHUNK // max(len(step_l), 1), 1)
    for start in range(0, len(nodes[0]), rows):
        here = slice(start, start + rows)
        kerf, bed, scatter = (one[here] for one in nodes)
        wet = records.wet_l(kerf, bed)
        for place, share in enumerate(apart):
            more = (1 + share) * wet
            spread = np.maximum(scatter[:, None] * more, 1e-6)
            below = {end: ndtr((edges[end] - more) / spread) for end in sorted({end for ends in read for end in ends})}
            right = [np.log(np.maximum(below[high] - below[low], 0.0) + wrong) for low, high in read]
            for habit, logs in enumerate(right):
                found[place, here, habit] = np.where(is_portion, logs, right[_NEAREST % len(right)]).sum(axis=1)
    heights: Array = logsumexp(found, axis=0) - np.log(len(apart))
    return np.broadcast_to(heights, (len(nodes[0]), len(HABITS)))


def _summed(kerf: Array, bed: Array, scatter: Array, weight: Array, records: int) -> Fit:
    mean = np.array([weight @ kerf, weight @ bed])
    off = np.stack([kerf, bed]) - mean[:, None]
    return Fit(
        (float(mean[0]), *central(kerf, weight)),
        (float(mean[1]), *central(bed, weight)),
        (off * weight) @ off.T,
        float(np.exp(weight @ np.log(scatter))),
        np.zeros(records),
        0.0,
    )
