"""Whether all positions of a register lie off the streets by one common shift, and what else would look the same."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.stats import chi2

from pipeline.locate.learning.fit import Batch, Mixture, fit, name_factor, score
from pipeline.locate.learning.masses import Masses, Spots, masses_of, slopes_of
from pipeline.locate.posterior import Pieces

__all__ = ["LEAST_FOR_SHIFT", "NO_SHIFT", "Reading", "Shift", "read_shift", "step_to_shift"]

Floats = npt.NDArray[np.float64]
Rows = npt.NDArray[np.bool_]

# below this many cores one register in eleven without a shift seems to have one
LEAST_FOR_SHIFT: Final = 200
# a shift that chance brings about in one register of a hundred
_RARE: Final = float(chi2.ppf(0.99, 2))
# log likelihood by which a shift has to explain more than a preferred side of the road
_LEAD: Final = 6.0
# where streets run one way only, the shift along them stays open
_MOST_ERROR_M: Final = 1.0
# a direction that nothing is known of has an error of 1 km, not one of nothing
_LEAST_INFORMATION: Final = 1e-6
_STEPS: Final = 8
_SMALL_STEP_M: Final = 0.01
_SIDES: Final = 8


class Shift(NamedTuple):
    """Where positions lie off the streets: metres to the east and the north, and the covariance of the two."""

    east: float
    north: float
    covariance: Floats


def step_to_shift(spots: Spots, pieces: Pieces, batch: Batch, mixture: Mixture, cluster: npt.NDArray[np.intp]) -> Shift:
    """Return the shift that one step of scoring asks for, from where the positions are put now.

    The score of a core is the derivative of its log likelihood; the covariance lets the scores of one street go
    together.
    """
    shares = np.outer(mixture.widths[:-1], mixture.strips)
    known, by_x, by_y = slopes_of(spots, pieces, shares)
    factor = name_factor(batch.match, mixture.name_right, batch.names_near) * batch.level
    count = batch.size
    total = np.bincount(batch.core, (known + mixture.widths[-1] * batch.masses.lost) * factor, minlength=count)
    # a position that is put back by the shift moves against it
    slopes = [np.bincount(batch.core, by * factor, minlength=count) for by in (by_x, by_y)]
    scores: Floats = -np.stack(slopes, axis=1) / np.maximum(total, np.finfo(float).tiny)[:, None]
    step = np.linalg.pinv(scores.T @ scores) @ scores.sum(axis=0)
    strips = _strip_scores(batch, mixture, factor, np.asarray(total, dtype=np.float64))
    # where all lines are drawn one way, a shift and a preference for their left are much alike
    apart = scores - strips @ np.linalg.lstsq(strips, scores, rcond=None)[0]
    inverse = np.asarray(np.linalg.inv(apart.T @ apart + _LEAST_INFORMATION * np.eye(2)), dtype=np.float64)
    return Shift(float(step[0]), float(step[1]), _wider(inverse, apart, cluster))


def _strip_scores(batch: Batch, mixture: Mixture, factor: Floats, total: Floats) -> Floats:
    """Return the derivatives of each core's log likelihood by the shares of the strips, N x strips."""
    by_pair = np.einsum("pkl,k->pl", batch.masses.known, mixture.widths[:-1].astype(np.float32)) * factor[:, None]
    of_strips = [np.bincount(batch.core, by, minlength=batch.size) for by in by_pair.T]
    by_core: Floats = np.stack(of_strips, axis=1) / np.maximum(total, np.finfo(float).tiny)[:, None]
    scores: Floats = mixture.strips * (by_core - (by_core @ mixture.strips)[:, None])
    return scores


def _wider(inverse: Floats, scores: Floats, cluster: npt.NDArray[np.intp]) -> Floats:
    """Return the covariance that lets the scores of a street go together, nowhere narrower than ``inverse``.

    The sums of a few streets nearly cancel where the search ends, and then seem more certain than they are.
    """
    streets = int((np.bincount(cluster) > 0).sum())
    together = np.stack([np.bincount(cluster, scores[:, axis]) for axis in (0, 1)], axis=1)
    values, ways = np.linalg.eigh(inverse)
    root = ways * np.sqrt(np.maximum(values, 0))
    # in the measure of ``inverse`` the sandwich is the sum of squares of what each street asks for
    few = streets / max(streets - 2, 1)
    own, turn = np.linalg.eigh(root.T @ (together.T @ together) @ root * few)
    wide: Floats = root @ (turn * np.maximum(own, 1.0)) @ turn.T @ root.T
    return wide


class Reading(NamedTuple):
    """What a register's positions say about a common shift.

    ``says``: "nothing", "shift", "side" (cores keep to one compass side of the road) or "either". ``shift``: metres.
    ``side``: direction of the preferred side, or None. ``weighed_as``: which of the readings the weighing follows.
    """

    says: str
    shift: Shift
    side: tuple[float, float] | None
    weighed_as: str

    @property
    def moves(self) -> bool:
        """Whether the weighing follows a shift or a side."""
        return self.weighed_as != "nothing"

    def masses(self, spots: Spots, pieces: Pieces) -> Masses:
        """Return the masses as this reading puts the positions."""
        if self.weighed_as == "shift":
            return masses_of(moved(spots, self.shift), pieces)
        return masses_of(spots, pieces, side=self.side if self.weighed_as == "side" else None)


NO_SHIFT: Final = Reading("nothing", Shift(0.0, 0.0, np.zeros((2, 2))), None, "nothing")


def moved(spots: Spots, shift: Shift) -> Spots:
    """Return positions put back by a shift."""
    return spots._replace(x=spots.x - shift.east, y=spots.y - shift.north)


def read_shift(
    spots: Spots, pieces: Pieces, batch: Batch, cores: Rows, street: npt.NDArray[np.intp], mixture: Mixture
) -> Reading:
    """Return what the marked cores of a batch say about a common shift."""
    if cores.sum() < LEAST_FOR_SHIFT:
        return NO_SHIFT
    here = np.flatnonzero(cores[batch.core])
    spots, batch, street = spots.part(here), batch.of(cores), street[cores]
    without = float(score(batch, mixture).sum())
    shift, now = NO_SHIFT.shift, mixture
    for _ in range(_STEPS):
        there = moved(spots, shift)
        put_back = batch._replace(masses=masses_of(there, pieces))
        now = fit(put_back)
        step = step_to_shift(there, pieces, put_back, now, street)
        shift = Shift(shift.east + step.east, shift.north + step.north, step.covariance)
        if np.hypot(step.east, step.north) < _SMALL_STEP_M:
            break
    put_back = batch._replace(masses=masses_of(moved(spots, shift), pieces))
    by_shift = float(score(put_back, fit(put_back)).sum()) - without
    place = np.array([shift.east, shift.north])
    errors = np.sqrt(np.linalg.eigvalsh(shift.covariance))
    rarity = float(place @ np.linalg.pinv(shift.covariance) @ place)
    # both tests have to be passed: the second one does not rest on the covariance
    if min(rarity, 2 * by_shift) < _RARE or errors.max() > _MOST_ERROR_M:
        return NO_SHIFT
    side, by_side = _best_side(spots, pieces, batch, without)
    if by_shift - by_side >= _LEAD:
        return Reading("shift", shift, None, "shift")
    return Reading(
        "either" if by_side - by_shift < _LEAD else "side", shift, side, "shift" if by_shift > by_side else "side"
    )


def _best_side(spots: Spots, pieces: Pieces, batch: Batch, without: float) -> tuple[tuple[float, float], float]:
    """Return the compass side that explains the positions best without a shift, and by how much."""
    best = ((1.0, 0.0), -np.inf)
    # opposite directions name the same two sides
    for angle in np.arange(_SIDES // 2) * 2 * np.pi / _SIDES:
        side = (float(np.cos(angle)), float(np.sin(angle)))
        turned = batch._replace(masses=masses_of(spots, pieces, side=side))
        gained = float(score(turned, fit(turned)).sum()) - without
        if gained > best[1]:
            best = (side, gained)
    return best
