"""Registers whose positions were not measured at the cores, or whose roads have no widths: nothing can be learnt there.

Snapped to a line, the scatter of positions is no error; geocoded, positions are those of addresses or parcels; and
without a width of any road, an error and a place beside the centre line look alike.
"""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

__all__ = ["UNMEASURED", "Lie", "Verdict", "lies_beside", "verdict_on"]

Floats = npt.NDArray[np.float64]
Rows = npt.NDArray[np.bool_]

# reasons for which positions seem not to be measured
UNMEASURED: Final = ("snapped", "equal", "beside")
_FOOTWAY_M: Final = 2.5
# how far a position that was snapped lies from its line, beyond the rounding of its digits: lines are drawn anew in
# another coordinate reference system, and straight pieces then bend
_TOLERANCE_M: Final = 0.02
# where digits are rounded more than this, a line and what lies near it look alike
_MOST_FROM_LINE_M: Final = 1.0
_MOST_FROM_PARALLEL_M: Final = 0.3
# share of the cores from which on a register is taken to be of the kind
_SNAPPED: Final = 0.25
_EQUAL: Final = 0.2
_BESIDE: Final = 0.5
# positions that are rounded more than this are equal by chance
_MOST_ROUNDING_M: Final = 0.5
# beside the roads there are so many times as many cores per metre as on them; errors alone thin out with the distance
_TIMES: Final = 2.0
_MOST_LOOKED_AT: Final = 6000


class Lie(NamedTuple):
    """Where N cores lie beside the nearest line within reach: metres, and whether the width of that road is known.

    ``rounding``: standard deviation that rounded digits add along one axis.
    """

    x: Floats
    y: Floats
    nearest: Floats
    half: Floats
    reach: Floats
    rounding: Floats
    has_width: Rows

    def of(self, cores: Rows) -> "Lie":
        """Return that of some cores."""
        x, y, nearest, half, reach, rounding = (column[cores] for column in self[:-1])
        return Lie(x, y, nearest, half, reach, rounding, self.has_width[cores])


class Verdict(NamedTuple):
    """Why nothing can be learnt, "" where something can; ``share``: of the cores that show it."""

    reason: str
    share: float


_FIT: Final = Verdict("", 0.0)


def verdict_on(lie: Lie) -> Verdict:
    """Return whether the positions of a register show an error at all."""
    if not lie.has_width.any():
        return Verdict("widths", 1.0)
    # equal positions are also equally far from their line
    equal = _equal(lie)
    if equal >= _EQUAL:
        return Verdict("equal", equal)
    snapped = _snapped(lie)
    return Verdict("snapped", snapped) if snapped >= _SNAPPED else _FIT


def lies_beside(lie: Lie) -> Verdict:
    """Return whether most cores lie beyond the footways, and more of them per metre than on the roads.

    A register that lies off the streets as a whole does so too: ask this only where no shift was found.
    """
    off = lie.nearest - lie.half
    beside = off > _FOOTWAY_M
    share = float(beside.mean())
    room = float(np.maximum(lie.reach - lie.half - _FOOTWAY_M, 0).mean())
    on_road = float((off <= 0).mean()) / float(lie.half.mean())
    if share < _BESIDE or room <= 0 or share / room <= _TIMES * on_road:
        return _FIT
    return Verdict("beside", share)


def _snapped(lie: Lie) -> float:
    """Return the share of cores that lie on their line, or all at one distance from it, beyond what chance brings.

    Around a place where cores were put there are hardly any; around one that chance fills, as many per metre.
    """
    nearest = lie.nearest[:: max(len(lie.nearest) // _MOST_LOOKED_AT, 1)]
    near = _TOLERANCE_M + float(np.quantile(lie.rounding, 0.9)) * np.sqrt(24) / 2
    # a line has two sides, and a core on it lies a little to one or the other
    across = np.sort(np.concatenate([-nearest, nearest]))

    def excess(middle: Floats) -> Floats:
        narrow, wide = (
            np.searchsorted(across, middle + reach, "right") - np.searchsorted(across, middle - reach, "left")
            for reach in (near, 3 * near)
        )
        found: Floats = (2 * narrow - wide).astype(np.float64)
        return found

    on_line = float(excess(np.zeros(1))[0]) / 2 if near <= _MOST_FROM_LINE_M else 0.0
    # from so far off on, the two sides of the line are apart
    places = nearest[nearest > 3 * near] if near <= _MOST_FROM_PARALLEL_M else np.empty(0)
    at_one_distance = float(excess(places).max(initial=0.0))
    return max(on_line, at_one_distance) / len(nearest)


def _equal(lie: Lie) -> float:
    """Return the share of cores that have exactly the position of another one."""
    if float(np.median(lie.rounding)) > _MOST_ROUNDING_M:
        return 0.0
    # a pair of numbers in one, which sorts many times faster than rows of two
    times = np.unique(lie.x + 1j * lie.y, return_counts=True)[1]
    return float(times[times > 1].sum()) / len(lie.x)
