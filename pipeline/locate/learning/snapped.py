"""Which positions were moved onto a road line: how far they lie from it is then no error."""

from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = ["LEAST_SNAPPED", "snapped_of"]

# so near is on the line, beyond what rounded digits leave open: coordinates are converted to the millimetre
_ON_LINE_M: Final = 0.02
# where digits leave more open, a position on a line looks like any other
_MOST_M: Final = 0.25
# of a normal error, however small, at most so many of the positions up to three times as far lie on the line
_MOST_BY_CHANCE: Final = 0.8
LEAST_SNAPPED: Final = 20


def snapped_of(
    nearest_m: npt.NDArray[np.float64], rounding_m: npt.NDArray[np.float64], register: npt.NDArray[np.object_]
) -> npt.NDArray[np.bool_]:
    """Return which of N positions lie on a road line because somebody put them there.

    Positions that scatter thin out with the distance from the line; those that were moved onto it leave a gap beside
    it.

    Parameters
    ----------
    nearest_m
        N distances from the nearest line, in metres; infinite where none is within reach.
    rounding_m
        How far rounded digits may move each position, in metres.
    register
        N names: each register is judged by itself.
    """
    on = _ON_LINE_M + rounding_m
    is_on, is_close = ((nearest_m <= times * on) & (on <= _MOST_M) for times in (1, 3))
    snapped = np.zeros(len(nearest_m), dtype=bool)
    for name in set(register[is_on].tolist()):
        mine = register == name
        count = int((is_on & mine).sum())
        if count >= LEAST_SNAPPED and count > _MOST_BY_CHANCE * int((is_close & mine).sum()):
            snapped |= is_on & mine
    return snapped
