"""The common shift that explains the positions of a register best, sought from several places."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from pipeline.locate.learning.fit import LEAST_LIKELIHOOD, Batch, Mixture, fit, name_factor, score, simplest
from pipeline.locate.learning.masses import Masses, Side, Spots, masses_of, slopes_of
from pipeline.locate.posterior import Pieces

__all__ = [
    "UNMOVED",
    "Found",
    "Sample",
    "Shift",
    "Start",
    "climb",
    "fitted",
    "masses_moved",
    "ranked",
    "shifts_around",
    "step_from",
]

Floats = npt.NDArray[np.float64]
Rows = npt.NDArray[np.bool_]

# a direction that nothing is known of has an error of 1 km, not one of nothing
_LEAST_INFORMATION: Final = 1e-6
_STEPS: Final = 8
_SMALL_STEP_M: Final = 0.01
# where searches start is chosen, and the way from there is gone, on so many cores; the end is sought on all
_TO_CHOOSE: Final = 600
_TO_GO: Final = 800
# rounds of a fit that only has to tell a good start from a bad one
_ROUNDS_TO_CHOOSE: Final = 20
# each step goes on from the mixture of the one before
_ROUNDS_TO_STEP: Final = 30
_DIRECTIONS: Final = 8
# half widths off the centre line where mains can lie
_OFF_WITHIN: Final = (0.3, 1.3)


class Shift(NamedTuple):
    """Where positions lie off the streets: metres to the east and the north, and the covariance of the two."""

    east: float
    north: float
    covariance: Floats

    def by(self, east: float, north: float) -> "Shift":
        """Return a shift that goes further by so many metres."""
        return self._replace(east=self.east + east, north=self.north + north)


UNMOVED: Final = Shift(0.0, 0.0, np.zeros((2, 2)))


def masses_moved(spots: Spots, pieces: Pieces, shift: Shift, side: Side | None = None) -> Masses:
    """Return the masses of positions put back by a shift, the kerbs told apart by the compass where a side is given."""
    return masses_of(spots._replace(x=spots.x - shift.east, y=spots.y - shift.north), pieces, side=side)


class Sample(NamedTuple):
    """P pairs of N cores and their lines, and N numbers of the streets that the cores are nearest to."""

    spots: Spots
    pieces: Pieces
    batch: Batch
    street: npt.NDArray[np.intp]

    def of(self, cores: Rows) -> "Sample":
        """Return those of the marked cores."""
        here = np.flatnonzero(cores[self.batch.core])
        return Sample(self.spots.part(here), self.pieces, self.batch.of(cores), self.street[cores])

    def thinned(self, most: int) -> "Sample":
        """Return at most so many cores, evenly spread over their order."""
        count = self.batch.size
        if count <= most:
            return self
        chosen = np.zeros(count, dtype=bool)
        chosen[np.linspace(0, count - 1, most).round().astype(np.intp)] = True
        return self.of(chosen)

    def put(self, shift: Shift, side: Side | None = None) -> Batch:
        """Return the batch with its positions put back by a shift."""
        return self.batch._replace(masses=masses_moved(self.spots, self.pieces, shift, side))


class Start(NamedTuple):
    """Where a search starts, and the side of the road that cores may keep to in it."""

    shift: Shift
    side: Side | None = None


class Found(NamedTuple):
    """Where a search ended: the shift and the side, the mixture that goes with them, and the log likelihood."""

    shift: Shift
    side: Side | None
    mixture: Mixture
    likelihood: float


def fitted(sample: Sample, shift: Shift, side: Side | None, rounds: int | None = None) -> Found:
    """Return the mixture that explains a sample best where its positions are put so."""
    put = sample.put(shift, side).summed()
    mixture = fit(put, rounds=rounds)
    return Found(shift, side, mixture, float(score(put, mixture).sum()))


def step_from(sample: Sample, batch: Batch, mixture: Mixture, start: Start) -> Start:
    """Return where one step of scoring leads, with the covariance of the shift.

    The score of a core is the derivative of its log likelihood; the covariance lets the scores of one street go
    together. ``batch``: the sample put back by the present shift. How far off the centre line mains lie is sought with
    the shift, if the side has it.
    """
    shift, side = start
    spots = sample.spots._replace(x=sample.spots.x - shift.east, y=sample.spots.y - shift.north)
    slopes = slopes_of(spots, sample.pieces, np.outer(mixture.widths[:-1], mixture.strips), side=side)
    factor = name_factor(batch.match, mixture.name_right, batch.names_near) * batch.level
    total = np.bincount(
        batch.core, (slopes.known + mixture.widths[-1] * batch.masses.lost) * factor, minlength=batch.size
    )
    is_off = side is not None and side.off != 0
    # a position that is put back by the shift moves against it
    of_pairs = [-slopes.by_x, -slopes.by_y, *([slopes.by_off] if is_off else [])]
    of_cores = [np.bincount(batch.core, by * factor, minlength=batch.size) for by in of_pairs]
    scores: Floats = np.stack(of_cores, axis=1) / np.maximum(total, LEAST_LIKELIHOOD)[:, None]
    step = np.linalg.pinv(scores.T @ scores) @ scores.sum(axis=0)
    # where all lines are drawn one way, a shift and a preference for their left are much alike
    others = np.hstack([_strip_scores(batch, mixture, factor, np.asarray(total, dtype=np.float64)), scores[:, 2:]])
    apart = scores[:, :2] - others @ np.linalg.lstsq(others, scores[:, :2], rcond=None)[0]
    inverse = np.asarray(np.linalg.inv(apart.T @ apart + _LEAST_INFORMATION * np.eye(2)), dtype=np.float64)
    shift = shift.by(float(step[0]), float(step[1]))._replace(covariance=_wider(inverse, apart, sample.street))
    if side is None or not is_off:
        return Start(shift, side)
    return Start(shift, side._replace(off=float(np.clip(side.off + step[2], *_OFF_WITHIN))))


def _strip_scores(batch: Batch, mixture: Mixture, factor: Floats, total: Floats) -> Floats:
    """Return the derivatives of each core's log likelihood by the shares of the strips, N x strips."""
    by_pair = np.einsum("pkl,k->pl", batch.masses.known, mixture.widths[:-1].astype(np.float32)) * factor[:, None]
    of_strips = [np.bincount(batch.core, by, minlength=batch.size) for by in by_pair.T]
    by_core: Floats = np.stack(of_strips, axis=1) / np.maximum(total, LEAST_LIKELIHOOD)[:, None]
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


def shifts_around(shift: Shift, far_m: tuple[float, ...]) -> list[Shift]:
    """Return the shifts in eight directions from one, so far from it."""
    turns = np.arange(_DIRECTIONS) * 2 * np.pi / _DIRECTIONS
    return [shift.by(far * float(np.cos(turn)), far * float(np.sin(turn))) for far in far_m for turn in turns]


def ranked(sample: Sample, starts: list[Start]) -> list[Start]:
    """Return the starts, those that explain some of the cores best first, by a rough fit.

    Where cores lie evenly to the left and the right of their lines, the likelihood is level: a search that begins there
    stands still.
    """
    small = sample.thinned(_TO_CHOOSE)
    chances = [fitted(small, start.shift, start.side, _ROUNDS_TO_CHOOSE).likelihood for start in starts]
    return [starts[at] for at in np.argsort(-np.array(chances), kind="stable")]


def climb(sample: Sample, start: Start) -> Found:
    """Return the shift at the top of the likelihood above a start: sought on some of the cores, then on all."""
    part = sample.thinned(_TO_GO)
    found = _step_up(part, start)
    return found if part is sample else _step_up(sample, Start(found.shift, found.side))


def _step_up(sample: Sample, start: Start) -> Found:
    """Step from a start to where the likelihood is highest."""
    towards, mixture = None, None
    for _ in range(_STEPS):
        put = sample.put(*start)
        towards = towards or simplest(put)
        mixture = fit(put, towards, rounds=_ROUNDS_TO_STEP, start=mixture)
        last, start = start, step_from(sample, put, mixture, start)
        if np.hypot(start.shift.east - last.shift.east, start.shift.north - last.shift.north) < _SMALL_STEP_M:
            break
    return fitted(sample, *start)
