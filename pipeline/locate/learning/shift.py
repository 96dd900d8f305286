"""Whether all positions of a register lie off the streets by one common shift, and what else would look the same."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import gammaincinv

from pipeline.locate.learning.fit import Batch, Mixture, score
from pipeline.locate.learning.masses import STRIPS, Masses, Side, Spots
from pipeline.locate.learning.shift_search import (
    UNMOVED,
    Found,
    Sample,
    Shift,
    Start,
    climb,
    fitted,
    masses_moved,
    ranked,
    shifts_around,
)
from pipeline.locate.posterior import Pieces

__all__ = ["LEAST_FOR_SHIFT", "NO_SHIFT", "Reading", "Shift", "read_shift"]

Floats = npt.NDArray[np.float64]
Rows = npt.NDArray[np.bool_]

# below this many cores one register in eleven without a shift seems to have one
LEAST_FOR_SHIFT: Final = 200
# so many cores give a shift to a few tenths of a metre; a search over more takes long where lines are close together
_MOST_READ: Final = 1500
# a shift that chance brings about in one register of a hundred
_RARE: Final = float(2 * gammaincinv(2 / 2, 0.99))
# log likelihood by which one reading has to explain more than another before it is given alone
_LEAD: Final = 6.0
# a shift with a side is sought from many more places than either alone
_LEAD_OF_BOTH: Final = 30.0
# where streets run one way only, the shift along them stays open
_MOST_ERROR_M: Final = 1.0
# shifts that differ by less are one
_SAME_M: Final = 0.5
# a shorter shift is not worth a survey
_LEAST_SAID_M: Final = 0.5
# how far from no shift searches start
_STARTS_M: Final = (2.0, 4.0)
# a main near one kerb lies so far from its centre line, in half widths
_KERB: Final = 0.75
_SIDES: Final = 8
_MOST: Final = 0.5
# cosine of the angle from which two sides are opposite
_OPPOSITE: Final = -0.5
_TURNS: Final = np.arange(_SIDES) * 2 * np.pi / _SIDES
# how far from the centre line mains are tried, in half widths
_OFFS: Final = (0.5, 0.85)
# sides are compared on so many cores
_TO_COMPARE: Final = 1000
_LEFT, _RIGHT = STRIPS.index("left"), STRIPS.index("right")


class Reading(NamedTuple):
    """What a register's positions say about a common shift.

    ``says``: "nothing", "shift", "side" (cores keep to one compass side of the road), "both" (a shift, and a side),
    "either" (a shift or a side), or "unclear" (a shift, a side or both, and not which). ``shift``: metres. ``side``:
    direction of the preferred side, or None. ``weighed_as``: "nothing", "shift", "side" or "both", whichever explains
    the positions best.
    """

    says: str
    shift: Shift
    side: Side | None
    weighed_as: str

    @property
    def moves(self) -> bool:
        """Whether the weighing follows a shift or a side."""
        return self.weighed_as != "nothing"

    def masses(self, spots: Spots, pieces: Pieces) -> Masses:
        """Return the masses as this reading puts the positions."""
        shift = self.shift if self.weighed_as in {"shift", "both"} else UNMOVED
        return masses_moved(spots, pieces, shift, self.side if self.weighed_as in {"side", "both"} else None)


NO_SHIFT: Final = Reading("nothing", UNMOVED, None, "nothing")


def read_shift(
    spots: Spots, pieces: Pieces, batch: Batch, cores: Rows, street: npt.NDArray[np.intp], mixture: Mixture
) -> Reading:
    """Return what the marked cores of a batch say about a common shift.

    A shift, a preferred side, and both at once are each fitted, and what explains the positions is given alone only if
    it leads the others.
    """
    if cores.sum() < LEAST_FOR_SHIFT:
        return NO_SHIFT
    sample = Sample(spots, pieces, batch, street).of(cores).thinned(_MOST_READ)
    without = Found(UNMOVED, None, mixture, float(score(sample.batch, mixture).sum()))
    by_shift, by_side = _by_shift(sample), _by_side(sample)
    if not _is_closed(by_shift) or max(_sureness(by_shift, without), 2 * _lead(by_side, without)) < _RARE:
        return NO_SHIFT
    by_side = max(by_side, _with_mains(sample, by_side), key=_likelihood)
    reading = _judged(without, by_shift, by_side, _by_both(sample, by_shift.shift))
    if reading.says in {"shift", "either"} and np.hypot(reading.shift.east, reading.shift.north) < _LEAST_SAID_M:
        # allowed for, but nothing that known points would show
        return reading._replace(says="nothing")
    return reading


def _judged(without: Found, by_shift: Found, by_side: Found, by_both: list[Found]) -> Reading:
    """Return what is said where nothing, a shift, a preferred side, or both at once explain the positions so well."""
    best = max(by_shift, by_side, *by_both, key=_likelihood)
    least = _LEAD if best is by_shift or best is by_side else _LEAD_OF_BOTH
    possible = [found for found in (by_shift, by_side) if _lead(best, found) < least]
    possible += [found for found in by_both if _lead(best, found) < _LEAD]
    is_shift = any(found is by_shift for found in possible)
    if 2 * _lead(best, without) < _RARE or (is_shift and _sureness(by_shift, without) < _RARE):
        return NO_SHIFT
    if all(_is_closed(found) and not _is_elsewhere(found, best) for found in possible):
        if is_shift:
            return Reading("shift", by_shift.shift, None, "shift")
        if any(found is by_side for found in possible):
            return Reading("side", UNMOVED, by_side.side, "side")
        return Reading("both", best.shift, best.side, "both")
    if best is not by_shift and best is not by_side:
        return Reading("unclear", best.shift, best.side, "both")
    return Reading("either", by_shift.shift, by_side.side, "shift" if best is by_shift else "side")


def _likelihood(found: Found) -> float:
    return found.likelihood


def _lead(found: Found, other: Found) -> float:
    return found.likelihood - other.likelihood


def _distance(east: float, north: float, covariance: Floats) -> float:
    """Return the squared length of a difference in standard errors, which chance gives as chi squared."""
    difference = np.array([east, north])
    return float(difference @ np.linalg.pinv(covariance) @ difference)


def _sureness(found: Found, without: Found) -> float:
    """Return how little a shift looks like chance: by its covariance and by what it explains, whichever is less."""
    return min(_distance(*found.shift), 2 * _lead(found, without))


def _is_elsewhere(found: Found, other: Found) -> bool:
    """Whether two searches ended in places that differ by more than chance, and by more than matters."""
    east, north = found.shift.east - other.shift.east, found.shift.north - other.shift.north
    if np.hypot(east, north) < _SAME_M:
        return False
    return _distance(east, north, found.shift.covariance + other.shift.covariance) >= _RARE


def _is_closed(found: Found) -> bool:
    """Whether streets run enough ways to tell the shift in every direction."""
    return bool(np.sqrt(np.linalg.eigvalsh(found.shift.covariance)).max() <= _MOST_ERROR_M)


def _by_shift(sample: Sample) -> Found:
    """Return the shift that explains the positions best, from no shift or from the best of the places around it."""
    starts = [Start(UNMOVED), *(Start(shift) for shift in shifts_around(UNMOVED, _STARTS_M))]
    chosen = ranked(sample, starts)[0]
    ends = [climb(sample, start) for start in (starts[0], chosen)[: 1 if chosen is starts[0] else 2]]
    return max(ends, key=_likelihood)


def _toward(turn: float, off: float = 0.0) -> Side:
    return Side(float(np.cos(turn)), float(np.sin(turn)), off)


def _kept_to(side: Side, mixture: Mixture) -> Side:
    """Return the side, or its opposite if more cores keep to that."""
    if side.off or mixture.strips[_LEFT] >= mixture.strips[_RIGHT]:
        return side
    return side._replace(east=-side.east, north=-side.north)


def _by_side(sample: Sample) -> Found:
    """Return the compass side that explains the positions best without a shift."""
    part = sample.thinned(_TO_COMPARE)
    # opposite directions part the roads into the same two sides
    turns = [float(turn) for turn in _TURNS[: _SIDES // 2]]
    found = {turn: fitted(part, UNMOVED, _toward(turn)) for turn in turns}
    best = max(found, key=lambda turn: found[turn].likelihood)
    for turn in (best - np.pi / _SIDES, best + np.pi / _SIDES):
        found[turn] = fitted(part, UNMOVED, _toward(turn))
    best = max(found, key=lambda turn: found[turn].likelihood)
    return fitted(sample, UNMOVED, _kept_to(_toward(best), found[best].mixture))


def _with_mains(sample: Sample, found: Found) -> Found:
    """Return the same side with mains as far off the centre line as explains the positions best without a shift.

    A main a fixed way from the centre line is narrower than a kerb's strip, and looks the more like a shift.
    """
    part, side = sample.thinned(_TO_COMPARE), found.side or _toward(0.0)
    for tried in ((0.4, 0.55, 0.7, 0.85, 1.0), (0.0, -0.1, 0.1), (0.0, -0.05, 0.05)):
        choices = [side._replace(off=side.off + more) for more in tried]
        side = max(choices, key=lambda one: fitted(part, UNMOVED, one).likelihood)
    return fitted(sample, UNMOVED, side)


def _by_both(sample: Sample, shift: Shift) -> list[Found]:
    """Return shifts that go with a preferred side, for kerbs and for mains a fixed way from the centre line.

    What seems to be a longer shift may be partly the side; where all roads are alike, another shift and mains on the
    other side may look the same.
    """
    half = float(np.median(sample.spots.half))
    found: list[Found] = []
    for of_kind in (((_KERB, 0.0),), [(off, off) for off in _OFFS]):
        starts = [Start(shift, _toward(turn, off)) for turn in _TURNS for _, off in of_kind]
        for way, off in of_kind:
            ways = zip(_TURNS, shifts_around(shift, (-way * half,)), strict=True)
            starts += [Start(nearer, _toward(turn, off)) for turn, nearer in ways]
        first, *others = ranked(sample, starts)
        across = [start for start in others if _are_opposite(start.side, first.side)]
        chosen = [first, *across[:1]] if of_kind[0][1] else [first]
        found += [climb(sample, start) for start in chosen]
    # mains on one side and most cores by the other kerb: a detour to what kerbs alone explain
    found = [end for end in found if end.side is None or not end.side.off or end.mixture.strips[_RIGHT] < _MOST]
    return [end._replace(side=_kept_to(end.side or _toward(0.0), end.mixture)) for end in found]


def _are_opposite(side: Side | None, other: Side | None) -> bool:
    return side is not None and other is not None and side.east * other.east + side.north * other.north < _OPPOSITE
