"""How likely each kerf and bed thickness is, given the crews' records: rounded, and some of them mistaken.

Every record says that the grout used was between two amounts. Its scatter about the model is a share of the modelled
litres; a small share of the records are mistakes, which may have any value. The likelihood of kerf, bed thickness and
scatter is evaluated on a grid; its mean, covariance and quantiles are the result. That makes a redescending estimator:
a record far from the model has next to no weight.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import least_squares, minimize
from scipy.special import expit, ndtr

__all__ = ["BED_MM", "KERF_MM", "SCATTER", "Array", "Fit", "Records", "central", "distinct_records", "fit_records"]

Array = npt.NDArray[np.float64]

# the only prior knowledge: kerf and bed are within these, in millimetres
KERF_MM: Final = (0.0, 30.0)
BED_MM: Final = (0.0, 150.0)
# scatter as a share of the litres: no crew is more even, or less, than this
SCATTER: Final = (0.02, 0.5)
_START_MISTAKES: Final = 0.05
_MOST_MISTAKES: Final = 0.5
# nodes of the grid in kerf, bed and scatter
_NODES: Final = (21, 21, 7)
# of the grid that finds where they are
_COARSE: Final = (11, 11, 5)
_MOST_ZOOMS: Final = 8
# a grid fits if the nodes that matter span this share of its width
_FILLED: Final = 0.55
_MATTERS: Final = 1e-4
# a first grid ends where the log-likelihood has fallen by this much along an axis, and a half beyond, as the axes are
# not independent
_FALLEN: Final = 20.0
_BEYOND: Final = 1.5
# of more different records, this many are used, evenly spaced by size: enough for a kerf to a fifth of a millimetre
_MANY: Final = 2000
_CHUNK: Final = 200_000
# decimals of lengths and shares, and digits of the covariance: processors add sums up in different orders
_DIGITS: Final = 6
_COVARIANCE_DIGITS: Final = 6


@dataclass(frozen=True)
class Records:
    """N records: between ``from_l`` and ``to_l`` litres were used in a hole ``hole_mm`` wide and ``depth_mm`` deep.

    ``weight``: how often each record occurs. ``kerf_mm``: the kerf included in ``hole_mm``. ``widens``: 2 if the
    core was measured, so that the hole is two kerfs wider, else 0. ``pilot_mm``, ``overfill``: taken as exact.
    """

    hole_mm: Array
    depth_mm: Array
    from_l: Array
    to_l: Array
    weight: Array
    pilot_mm: float
    overfill: float
    kerf_mm: float
    widens: int

    def wet_l(self, kerf_mm: npt.ArrayLike, bed_mm: npt.ArrayLike) -> Array:
        """Return the litres of every record (last axis) for every kerf and bed (first axes), overfill included."""
        kerf, bed = (np.asarray(one, dtype=float)[..., None] for one in (kerf_mm, bed_mm))
        hole = self.hole_mm + self.widens * (kerf - self.kerf_mm)
        area = np.pi * (hole - kerf) * kerf + np.pi / 4 * self.pilot_mm**2
        wet: Array = (1 + self.overfill) * (area * self.depth_mm + np.pi / 4 * hole**2 * bed) / 100.0**3
        return wet


@dataclass(frozen=True)
class Fit:
    """What :func:`fit_records` returns."""

    kerf_mm: tuple[float, float, float]
    bed_mm: tuple[float, float, float]
    covariance: Array
    scatter: float
    mistaken: Array
    mistakes: float


def fit_records(records: Records) -> Fit:
    """Fit kerf and bed thickness to the records.

    Parameters
    ----------
    records
        N records, each of weight 1.

    Returns
    -------
    Fit
        ``kerf_mm``, ``bed_mm``: mean and the ends of the central 95 %, in millimetres. ``covariance``: of the two, mm².
        ``scatter``: as a share of the litres. ``mistaken``: how likely each of the N records is a mistake.
        ``mistakes``: the share of mistakes. Lengths and shares are to a millionth, and the covariance to six
        digits: further ones depend on the processor.
    """
    grouped = distinct_records(records)
    mode = _mode(grouped)
    kerf, bed, scatter, weight = _grid(grouped, mode)
    mean = np.array([weight @ kerf, weight @ bed])
    apart = np.stack([kerf, bed]) - mean[:, None]
    shares = float(np.exp(weight @ np.log(scatter)))
    good, mistaken = _chances(records, mean[:1], mean[1:], shares, mode.mistakes)
    return Fit(
        _in_digits(mean[0], *central(kerf, weight)),
        _in_digits(mean[1], *central(bed, weight)),
        np.reshape([float(f"{one:.{_COVARIANCE_DIGITS}g}") for one in ((apart * weight) @ apart.T).ravel()], (2, 2)),
        round(shares, _DIGITS),
        np.round(mistaken / (good + mistaken), _DIGITS)[0],
        round(mode.mistakes, _DIGITS),
    )


def _in_digits(mean: float, low: float, high: float) -> tuple[float, float, float]:
    return round(float(mean), _DIGITS), round(float(low), _DIGITS), round(float(high), _DIGITS)


@dataclass(frozen=True)
class _Mode:
    kerf_mm: float
    bed_mm: float
    scatter: float
    mistakes: float
    # millimetres of bed that make up for one of kerf: records hardly distinguish the two along this direction
    trade: float


def distinct_records(records: Records) -> Records:
    """Return each different record once, with how often it occurs."""
    table = pd.DataFrame(
        {
            "hole": records.hole_mm,
            "depth": records.depth_mm,
            "low": records.from_l,
            "high": records.to_l,
        }
    )
    if len(table.drop_duplicates()) > _MANY:
        table = table.sort_values(["hole", "depth", "high"]).iloc[
            np.linspace(0, len(table) - 1, _MANY).round().astype(int)
        ]
    counts = table.groupby(list(table), sort=True).size().reset_index(name="count").astype(float)
    hole, depth, low, high, weight = counts.to_numpy().T
    return Records(hole, depth, low, high, weight, records.pilot_mm, records.overfill, records.kerf_mm, records.widens)


def _chances(records: Records, kerf: Array, bed: Array, scatter: float, mistakes: float) -> tuple[Array, Array]:
    """Return the likelihood of each record (last axis) at every kerf and bed (first axis): as correct, as a mistake."""
    low, high = _beside(records, kerf, bed)
    right = ndtr(high / scatter) - ndtr(low / scatter)
    mistaken = (records.to_l - records.from_l) / records.to_l.max()
    return (1 - mistakes) * np.maximum(right, 0.0), np.broadcast_to(mistakes * mistaken, right.shape)


def _beside(records: Records, kerf: Array, bed: Array) -> tuple[Array, Array]:
    """Return how far the ends of each record are from the modelled litres, as shares of these."""
    # without kerf, bed and pilot hole there are no litres
    wet = np.maximum(records.wet_l(kerf, bed), 1e-6)
    return records.from_l / wet - 1, records.to_l / wet - 1


def _log_likelihood(records: Records, kerf: Array, bed: Array, scatter: Array, mistakes: float) -> Array:
    """Return the log-likelihood of all records at each of P pairs of kerf and bed (first axis) and each scatter."""
    step = max(_CHUNK // len(records.weight), 1)
    mistaken = mistakes / (1 - mistakes) * (records.to_l - records.from_l) / records.to_l.max()
    heights = np.empty((len(kerf), len(scatter)))
    for start in range(0, len(kerf), step):
        here = slice(start, start + step)
        low, high = _beside(records, kerf[here], bed[here])
        for place, share in enumerate(scatter):
            right = ndtr(high / share)
            right -= ndtr(low / share)
            heights[here, place] = np.log(np.maximum(right, 0.0) + mistaken) @ records.weight
    all_right: Array = heights + np.log(1 - mistakes) * records.weight.sum()
    return all_right


def _mode(records: Records) -> _Mode:
    """Return the likeliest values, from a start that is robust against mistakes."""
    middle = (records.from_l + records.to_l) / 2
    root = np.sqrt(records.weight)
    start = least_squares(
        lambda at: root * (records.wet_l(*at) - middle),
        (9.0, 12.0),
        loss="cauchy",
        f_scale=0.1 * float(np.median(middle)),
        bounds=tuple(zip(KERF_MM, BED_MM, strict=True)),
    ).x
    step = 0.01
    by_kerf = records.wet_l(start[0] + step, start[1]) - records.wet_l(*start)
    by_bed = records.wet_l(start[0], start[1] + step) - records.wet_l(*start)
    trade = float((records.weight @ by_kerf) / (records.weight @ by_bed))

    def unlikely(at: Array) -> float:
        node = (at[:1], at[1:2] - trade * (at[:1] - start[0]), np.exp(at[2:3]))
        if node[1][0] < 0:
            return float(1e3 - node[1][0])
        return float(-_log_likelihood(records, *node, float(expit(at[3])))[0, 0] / records.weight.sum())

    best = minimize(
        unlikely,
        (start[0], start[1], np.log(0.1), np.log(_START_MISTAKES / (1 - _START_MISTAKES))),
        method="L-BFGS-B",
        bounds=[KERF_MM, (0, 300), tuple(np.log(SCATTER)), (-6, np.log(_MOST_MISTAKES / (1 - _MOST_MISTAKES)))],
    ).x
    # records far beyond any bed are best fitted by the thickest
    bed = float(np.clip(best[1] - trade * (best[0] - start[0]), *BED_MM))
    return _Mode(float(best[0]), bed, float(np.exp(best[2])), float(expit(best[3])), trade)


def _first_ends(
    records: Records, mode: _Mode, top: tuple[float, ...], most: tuple[tuple[float, float], ...]
) -> list[tuple[float, float]]:
    """Return the ends of a first grid: along each axis, beyond where the likelihood has fallen to next to nothing.

    The second axis is across the direction in which kerf and bed make up for each other.
    """

    def height(at: list[float]) -> float:
        kerf, bed = np.array([at[0]]), np.array([at[1] - mode.trade * (at[0] - mode.kerf_mm)])
        if not BED_MM[0] <= bed[0] <= BED_MM[1]:
            return -np.inf
        return float(_log_likelihood(records, kerf, bed, np.exp([at[2]]), mode.mistakes)[0, 0])

    peak, ends = height(list(top)), []
    for axis, limits in enumerate(most):
        found = []
        for limit in limits:
            # from a thousandth of the way, twice as far each time
            share, at = 1e-3, list(top)
            while share < 1:
                at[axis] = top[axis] + share * (limit - top[axis])
                if height(at) < peak - _FALLEN:
                    break
                share *= 2
            found.append(top[axis] + min(_BEYOND * share, 1.0) * (limit - top[axis]))
        ends.append((found[0], found[1]))
    return ends


def _grid(records: Records, mode: _Mode) -> tuple[Array, Array, Array, Array]:
    """Return kerf, bed, scatter and weight of every node of a grid that covers what matters and little else."""
    most = ((0.0, KERF_MM[1]), (mode.bed_mm - 60.0, mode.bed_mm + 60.0), tuple(np.log(SCATTER)))
    top = (mode.kerf_mm, mode.bed_mm, float(np.log(mode.scatter)))
    ends = _first_ends(records, mode, top, most)
    # a coarse grid finds what matters, a fine one sums it
    for counts in (_COARSE, _NODES):
        for _ in range(_MOST_ZOOMS):
            axes = [np.linspace(end[0], end[1], count) for end, count in zip(ends, counts, strict=True)]
            kerf, across = (one.ravel() for one in np.meshgrid(*axes[:2], indexing="ij"))
            bed = across - mode.trade * (kerf - mode.kerf_mm)
            able = (bed >= BED_MM[0]) & (bed <= BED_MM[1])
            heights = np.full((len(kerf), len(axes[2])), -np.inf)
            heights[able] = _log_likelihood(records, kerf[able], bed[able], np.exp(axes[2]), mode.mistakes)
            weight = np.exp(heights - heights.max())
            matters = weight > _MATTERS
            nodes = (kerf[matters.any(axis=1)], across[matters.any(axis=1)], axes[2][matters.any(axis=0)])
            tighter = []
            for axis, values, limit, here in zip(axes, nodes, most, top, strict=True):
                step = axis[1] - axis[0]
                least, largest = min(float(values.min()), here), max(float(values.max()), here)
                tighter.append((max(least - step, limit[0]), min(largest + step, limit[1])))
            shares = [(new[1] - new[0]) / (old[1] - old[0]) for new, old in zip(tighter, ends, strict=True)]
            if all(share > _FILLED for share in shares):
                break
            ends = tighter
    every = np.broadcast_to(np.exp(axes[2]), heights.shape)
    return (
        np.repeat(kerf, len(axes[2])),
        np.repeat(bed, len(axes[2])),
        every.ravel(),
        (weight / weight.sum()).ravel(),
    )


def central(values: Array, weight: Array) -> tuple[float, float]:
    """Return the ends of the central 95 %."""
    order = np.argsort(values, kind="stable")
    summed = pd.Series(weight[order]).groupby(values[order]).sum()
    below = summed.cumsum() - summed / 2
    low, high = np.interp([0.025, 0.975], below, summed.index)
    return float(low), float(high)
