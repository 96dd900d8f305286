"""The steps of values that were measured in one unit and stored in another.

A crew that reads a rule to the nearest eighth of an inch and stores millimetres writes 3.2, 6.4 and 9.5. Those digits
claim a tenth of a millimetre, but each value may be 1.6 mm off. Taken at their word, such digits turn cores that are
within a limit into breaches of it. The same holds for tenths of a gallon in litres and for degrees Fahrenheit in
degrees Celsius, and the other way round.

The rule: a value is a multiple of a step of another unit if some multiple of that step, rounded to the digits that the
value was written with, gives the number written. The step is used for a group of values if at least 95 % of its cells
and 80 % of its different values are multiples, at least five different values are, and so many would be by chance in
at most one of 10,000 groups. By chance, a value is a multiple with a probability of the step of its last digit divided
by the step tried; the different values count as independent. The coarsest step is tried first. A value of the group
that is no multiple of it may be one of a finer step.

Such a value was rounded twice. It may be off by half a step from the multiple, and the number written differs from the
multiple besides: so the step returned is that of the other unit and twice that difference. Of 12.7 mm it is 3.175 mm,
of 3.2 mm, an eighth of an inch or 3.175 mm, it is 3.225 mm.
"""

from fractions import Fraction
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import betainc

from pipeline.units import DIMENSION_OF_UNIT, convert, step_in

__all__ = ["converted_steps"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_NEARLY_ALL: Final = 0.95
_MOST_VALUES: Final = 0.8
_FEWEST_VALUES: Final = 5
_CHANCE: Final = 1e-4
# of a step: the error of a number that was stored in half the usual bits
_TOLERANCE: Final = 1e-6

_Parts = tuple[str, ...]
_LITRES: Final[tuple[str, _Parts]] = ("litre", ("1", "0.5", "0.25", "0.2", "0.1", "0.05", "0.01"))
# an eighth of a gallon is a pint
_GALLONS: Final[_Parts] = ("1", "1/2", "1/4", "1/8", "0.1", "0.05", "0.01")
_US: Final[tuple[str, _Parts]] = ("gallon", (*_GALLONS, "1/128"))
_IMPERIAL: Final[tuple[str, _Parts]] = ("imperial_gallon", (*_GALLONS, "1/160"))
_FEET: Final[tuple[str, _Parts]] = ("foot", ("1", "1/2", "1/4", "0.1", "0.01"))
_INCHES: Final[tuple[str, _Parts]] = ("inch", ("2", "1", "1/2", "1/4", "1/8", "1/16", "1/32", "0.1", "0.05", "0.01"))
_MILLIMETRES: Final[tuple[str, _Parts]] = ("millimetre", ("100", "50", "10", "5", "1", "0.5", "0.1"))
_DEGREES: Final[_Parts] = ("5", "1", "0.5", "0.1")

# by the unit written, the units that the values may have been read in; inches and feet are read by fractions of each
# other, and those are written as rounded decimals too
_READ_IN: Final[dict[str, tuple[tuple[str, _Parts], ...]]] = {
    **dict.fromkeys(("millimetre", "centimetre", "metre"), (_FEET, _INCHES)),
    **dict.fromkeys(("inch", "foot"), (_MILLIMETRES, _FEET, _INCHES)),
    **dict.fromkeys(("litre", "millilitre", "metre ** 3"), (_US, _IMPERIAL)),
    **dict.fromkeys(("gallon", "quart"), (_LITRES, _IMPERIAL)),
    "imperial_gallon": (_LITRES, _US),
    "degree_Celsius": (("degree_Fahrenheit", _DEGREES),),
    "degree_Fahrenheit": (("degree_Celsius", _DEGREES),),
}
# where the zero of a unit is, in the unit of the contract; at zero for all others
_ZERO_AT: Final = {"degree_Fahrenheit": float(convert([0.0], "degF", "degC")[0])}


def converted_steps(
    group: Ints, number: Floats, digit_step: Floats, cells: Floats, *, is_different: Bools, written_in: str, unit: str
) -> Floats:
    """Return the step that each value was measured to in another unit, in the unit written; missing where none shows.

    Half of it lies to either side of the number written, twice rounded as that was.

    Parameters
    ----------
    group, number, digit_step, cells
        N texts, each once per group: the number of the group, the number written, the step of the last digit, and how
        many cells hold that text.
    is_different
        Which of the N texts count as different values of their group.
    written_in
        The unit written, as the values of ``pipeline.units.SPELLINGS`` name it.
    unit
        The unit of the column in the contract.
    """
    found = np.full(len(number), np.nan)
    for step, zero in _ladder(written_in, unit):
        parts = (number - zero) / step
        off = np.abs(parts - np.round(parts))
        # within half a written digit of a multiple
        is_multiple = off <= digit_step / step / 2 + _TOLERANCE
        shown = _shows(group, is_multiple, digit_step / step, cells, is_different)
        found = np.where(np.isnan(found) & is_multiple & shown[group], step * (1 + 2 * off), found)
    return found


def _ladder(written_in: str, unit: str) -> list[tuple[float, float]]:
    """Return the steps to try, the coarsest first, each with the place of its zero, in the unit written."""
    if written_in not in _READ_IN or unit.lower() not in DIMENSION_OF_UNIT:
        return []
    size, zero = step_in(written_in, unit), _ZERO_AT.get(written_in, 0.0)
    steps = {
        (float(Fraction(part)) * step_in(name, unit) / size, (_ZERO_AT.get(name, 0.0) - zero) / size)
        for name, parts in _READ_IN[written_in]
        for part in parts
    }
    return sorted(steps, reverse=True)


def _shows(group: Ints, is_multiple: Bools, share: Floats, cells: Floats, is_different: Bools) -> Bools:
    """Return for each group whether it shows a step, ``share`` being the chance of each text to be a multiple of it."""
    of_cells = np.bincount(group, cells * is_multiple) / np.fmax(np.bincount(group, cells), 1.0)
    different = np.bincount(group, is_different)
    multiples = np.bincount(group, is_different & is_multiple)
    chances = np.clip(share + 2 * _TOLERANCE, None, 1.0)
    # the product of unequal chances is that of their geometric mean
    mean = np.exp(np.bincount(group, np.log(chances) * is_different) / np.fmax(different, 1.0))
    # the upper tail of a binomial
    by_chance = betainc(np.fmax(multiples, 1), different - multiples + 1, mean)
    shows: Bools = (
        (of_cells >= _NEARLY_ALL)
        & (multiples >= _MOST_VALUES * different)
        & (multiples >= _FEWEST_VALUES)
        & (by_chance <= _CHANCE)
    )
    return shows
