"""The digits of a written position as evidence: the step it was rounded to, on the ground, and the error that adds.

Rounding to a step s adds an error that is uniform over s, whose standard deviation is s / sqrt(12).
"""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from pyproj import CRS
from scipy.special import pdtrc

from pipeline.intake.cells.coordinates import Coordinates

__all__ = ["Rounding", "ground_rounding", "usual_lengths", "written_steps"]

Floats = npt.NDArray[np.float64]

# length of a degree of latitude on a sphere of the Earth's mean radius, 6,371,008.8 m (IUGG)
_METRES_PER_DEGREE: Final = np.pi / 180 * 6_371_008.8
# values with fewer digits are rounded ones if chance explains their number less often than this
_CHANCE: Final = 0.01
# this many digits fewer are never taken for zeros that were lost: in one coordinate in 1,000 they are
_NEVER_LOST: Final = 3
# a longer number of metres is none
_MOST_ZEROS: Final = 300
# after so many decimal places no number has a digit left
_MOST_DECIMALS: Final = 324


class Rounding(NamedTuple):
    """What the digits of N positions leave uncertain, in metres on the ground; missing where it is not known.

    ``step_m``: the larger of the steps of the two coordinates. ``sigma_m``: the standard deviation, along one axis, of
    the round normal error with the same variance as both roundings.
    """

    step_m: Floats
    sigma_m: Floats


def written_steps(
    x: Coordinates, y: Coordinates, is_number: npt.NDArray[np.bool_] | None = None
) -> tuple[Floats, Floats]:
    """Return the steps that N positions were rounded to along each axis, in the unit of the coordinates.

    The step is that of the last digit written, with two exceptions. Programs drop zeros at the end: where a column
    shows none at a usual length, values one or two digits shorter count as having that length, unless there are more
    of them than dropped zeros explain, or both coordinates are two digits shorter. Three digits fewer always count as
    written; with dropped zeros, 1 coordinate in 1,000 has them by chance. Whole numbers that both end in two or more
    zeros are taken to be rounded there; by chance 1 position in 10,000 is.

    Parameters
    ----------
    x, y
        The coordinates as read.
    is_number
        N rows: a workbook stores the cells as numbers, so zeros at the end cannot show; None where all are text.
    """
    text = np.ones(len(x.value), dtype=bool) if is_number is None else ~is_number
    (x_usual, x_lost), (y_usual, y_lost) = (_zeros_lost(axis, text) for axis in (x, y))
    both_short = (x_usual - x.decimals >= 2) & (y_usual - y.decimals >= 2)
    steps = [
        np.where(lost & ~both_short, np.power(10.0, -usual), axis.step)
        for axis, usual, lost in ((x, x_usual, x_lost), (y, y_usual, y_lost))
    ]
    zeros = np.minimum(x.zeros, y.zeros)
    round_numbers = (x.decimals == 0) & (y.decimals == 0) & (zeros >= 2)
    steps = [
        np.where(round_numbers & (axis.value != 0), np.power(10.0, np.minimum(zeros, _MOST_ZEROS)), step)
        for axis, step in zip((x, y), steps, strict=True)
    ]
    return steps[0], steps[1]


def _zeros_lost(axis: Coordinates, text: npt.NDArray[np.bool_]) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Return the usual number of decimal places for each of N values, and whether a shorter one only lost its zeros."""
    usual = np.full(len(axis.value), np.nan)
    lost = np.zeros(len(axis.value), dtype=bool)
    for group in (text, ~text):
        rows = np.flatnonzero(group & np.isfinite(axis.decimals))
        if not len(rows):
            continue
        decimals = np.minimum(axis.decimals[rows], _MOST_DECIMALS).astype(int)
        # a number that ends in a written zero has lost none
        shows_zeros = (axis.zeros[rows] > 0) & (decimals > 0)
        keeps_zeros = np.bincount(decimals[shows_zeros], minlength=decimals.max() + 1) > 0
        length = usual_lengths(np.bincount(decimals), keeps_zeros & (group is text))
        usual[rows] = length[decimals]
        lost[rows] = (length[decimals] > decimals) & ~shows_zeros
    return usual, lost


def usual_lengths(counts: npt.NDArray[np.int64], keeps_zeros: npt.NDArray[np.bool_]) -> npt.NDArray[np.int64]:
    """Return for each number of decimal places the one that such values had before zeros at their end were dropped.

    A column may be put together from sources of several lengths. From the longest down, a length is one of its own
    unless the zeros dropped from longer ones explain how often it occurs: of their values, 9 in 10 end in no zero, 9 in
    100 in one.

    Parameters
    ----------
    counts
        How often each number of decimal places occurs, from none.
    keeps_zeros
        The lengths at which zeros at the end are written.
    """
    usual = np.arange(len(counts))
    own = np.zeros(len(counts))
    for length in range(len(counts) - 1, -1, -1):
        longer = np.arange(length + 1, len(counts))
        expected = own[longer] * 10.0 ** (length - longer)
        total = expected.sum()
        if total > 0 and pdtrc(counts[length] - 1, total) >= _CHANCE:
            source = int(longer[np.argmax(expected)])
            usual[length] = source if source - length < _NEVER_LOST else length
        elif not keeps_zeros[length]:
            own[length] = counts[length] - total
    return usual


def ground_rounding(x_step: Floats, y_step: Floats, lat: Floats, crs: CRS) -> Rounding:
    """Return what the steps of N positions leave uncertain on the ground.

    Parameters
    ----------
    x_step, y_step
        Steps of the two coordinates, in the unit of the CRS.
    lat
        Latitudes in degrees; missing where a row has no position.
    crs
        Of the coordinates. In a projected one, the scale of its map is left aside.
    """
    # metres per unit of length, or radians per unit of angle
    unit = crs.axis_info[0].unit_conversion_factor
    if crs.is_geographic:
        up = unit * 180 / np.pi * _METRES_PER_DEGREE
        across = up * np.cos(np.radians(lat))
    else:
        up, across = unit, np.where(np.isfinite(lat), unit, np.nan)
    wide, high = x_step * across, y_step * up
    step = np.where(np.isfinite(lat), np.fmax(wide, high), np.nan)
    # each rounding has the variance s^2 / 12; a round error has half of their sum along each axis
    sigma = np.sqrt((np.nan_to_num(wide) ** 2 + np.nan_to_num(high) ** 2) / 24)
    return Rounding(step, np.where(np.isfinite(step), sigma, np.nan))
