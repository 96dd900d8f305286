"""The mixture that explains a batch of cores best: shares of widths, strips and right names, by penalised EM."""

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from pipeline.locate.learning.masses import STRIPS, WIDTHS_M, Masses
from pipeline.locate.learning.products import by_column, by_row, columns_of

__all__ = [
    "LEAST_LIKELIHOOD",
    "START",
    "Batch",
    "Mixture",
    "fit",
    "name_factor",
    "position_likelihood",
    "score",
    "simplest",
]

Floats = npt.NDArray[np.float64]

# how many cores the simple mixture that a search starts from is worth
_KEPT_BY_START: Final = 30.0
# of a simple mixture: shares of its width and of those next to it, of the lost, and of cores anywhere across the road
_OF_WIDTH: Final = (0.2, 0.6, 0.2)
_LOST: Final = 0.01
# of all widths alike: a search never comes back to a share of nothing
_ANY_WIDTH: Final = 0.1
_EVEN: Final = 0.8
# the share of right names is pulled by at least so many cores, and stays within
_LEAST_NAMES: Final = 20.0
_NAMES_WITHIN: Final = (0.02, 0.995)
# of a core beyond every error: its share of a fit stays within single precision
LEAST_LIKELIHOOD: Final = 1e-30
_ROUNDS: Final = 300
# a round that gains less per core ends the search
_ENOUGH: Final = 1e-7


class Mixture(NamedTuple):
    """What a batch's positions and names follow: shares that add up to one in each, and the share of right names.

    ``widths``: of the round normals of ``WIDTHS_M``, then of the cores that are lost. ``strips``: of ``STRIPS``.
    """

    widths: Floats
    strips: Floats
    name_right: float


START: Final = Mixture(
    widths=np.append(np.full(len(WIDTHS_M), (1 - _LOST) / len(WIDTHS_M)), _LOST),
    strips=np.append(_EVEN, np.full(len(STRIPS) - 1, (1 - _EVEN) / (len(STRIPS) - 1))),
    name_right=0.9,
)


def simple_mixtures(name_right: float) -> list[Mixture]:
    """Return a mixture about each width: with few cores, no more than the width can be told."""
    mixtures = []
    for at in range(len(WIDTHS_M)):
        widths = np.zeros(len(WIDTHS_M) + 2)
        widths[at : at + 3] = _OF_WIDTH
        # what falls off an end of the ladder goes to the end
        widths[1] += widths[0]
        widths[-2] += widths[-1]
        known = (1 - _ANY_WIDTH) * widths[1:-1] + _ANY_WIDTH / len(WIDTHS_M)
        mixtures.append(Mixture(np.append((1 - _LOST) * known, _LOST), START.strips, name_right))
    return mixtures


class Batch(NamedTuple):
    """P pairs of N cores and their candidate segments.

    ``core``: position among the N, ascending. ``masses``: of the P pairs. ``match``: how well the names agree, 0 to 1,
    missing where there is none. ``level``: likelihood of the segment's level. ``names_near``: a wrong name is equally
    likely to be any of this many.
    """

    core: npt.NDArray[np.intp]
    masses: Masses
    match: Floats
    level: Floats
    names_near: float

    def of(self, cores: npt.NDArray[np.bool_]) -> "Batch":
        """Return the pairs of the marked cores."""
        here = cores[self.core]
        number = np.cumsum(cores) - 1
        return Batch(
            number[self.core[here]], self.masses.part(here), self.match[here], self.level[here], self.names_near
        )

    def summed(self) -> "Batch":
        """Return the batch with the pairs of a core summed up that differ in their masses alone.

        What is fitted to it is the same but for the rounding of single precision: for what is only compared.
        """
        match, level = (np.unique(values, return_inverse=True)[1] for values in (self.match, self.level))
        kind = match * np.int64(level.max(initial=0) + 1) + level
        order = np.lexsort((kind, self.core))
        begins = np.flatnonzero(np.diff(self.core[order], prepend=-1) | np.diff(kind[order], prepend=-1))
        masses = Masses(*(np.add.reduceat(values[order], begins, axis=0) for values in self.masses))
        first = order[begins]
        return Batch(self.core[first], masses, self.match[first], self.level[first], self.names_near)

    @property
    def size(self) -> int:
        """Number of cores."""
        return int(self.core[-1]) + 1 if len(self.core) else 0


def name_factor(match: Floats, name_right: float | Floats, names_near: float) -> Floats:
    """Return the likelihood of the written name of each pair; 1 where there is nothing to compare."""
    agreed = name_right * np.nan_to_num(match) + (1 - name_right) / names_near
    factor: Floats = np.where(np.isnan(match), 1.0, agreed)
    return factor


def position_likelihood(masses: Masses, mixture: Mixture) -> Floats:
    """Return the likelihood of each pair's position, per metre."""
    shares = np.outer(mixture.widths[:-1], mixture.strips).ravel()
    # of no pairs at all, a size that is left open could not be worked out
    flat = masses.known.reshape(len(masses.lost), len(shares))
    known = by_row(flat, shares.astype(np.float32)).astype(np.float64)
    likelihood: Floats = known + mixture.widths[-1] * masses.lost
    return likelihood


def score(batch: Batch, mixture: Mixture) -> Floats:
    """Return the log likelihood of each core's position and name, per metre."""
    pair = position_likelihood(batch.masses, mixture) * batch.level
    pair *= name_factor(batch.match, mixture.name_right, batch.names_near)
    total = np.bincount(batch.core, pair, minlength=batch.size)
    scores: Floats = np.log(np.maximum(total, LEAST_LIKELIHOOD))
    return scores


def simplest(batch: Batch) -> Mixture:
    """Return the simple mixture that explains a batch best."""
    return max(simple_mixtures(START.name_right), key=lambda simple: float(score(batch, simple).sum()))


def fit(
    batch: Batch,
    towards: Mixture | None = None,
    weight: float = _KEPT_BY_START,
    rounds: int | None = None,
    start: Mixture | None = None,
) -> Mixture:
    """Return the mixture that explains a batch best, pulled towards another one.

    Parameters
    ----------
    batch
        Pairs of cores and candidates.
    towards
        What the shares are pulled towards; None for the best of the simple mixtures.
    weight
        How many cores the pull is worth.
    rounds
        At most so many rounds; None for as many as it takes.
    start
        Where the search starts; None for ``towards``.
    """
    count, near = batch.size, batch.names_near
    if towards is None:
        towards = simplest(batch)
    if not count:
        return towards
    flat = batch.masses.known.reshape(len(batch.core), -1)
    columns, core = columns_of(flat), batch.core
    mixture, last = start or towards, -np.inf
    right_weight = max(weight, _LEAST_NAMES)
    # the same in every round: where there is a name, what it adds if it is right, and if it is any
    named = ~np.isnan(batch.match)
    match = batch.match[named]
    if_right = np.where(named, np.nan_to_num(batch.match) * batch.level, 0.0)
    if_any, without = np.where(named, batch.level / near, 0.0), np.where(named, 0.0, batch.level)
    for _ in range(_ROUNDS if rounds is None else rounds):
        shares = np.outer(mixture.widths[:-1], mixture.strips).ravel().astype(np.float32)
        lost = mixture.widths[-1] * batch.masses.lost
        factor = mixture.name_right * if_right + (1 - mixture.name_right) * if_any + without
        pair = (by_row(flat, shares) + lost) * factor
        total = np.maximum(np.bincount(core, pair, minlength=count), LEAST_LIKELIHOOD)
        of_pair = total[core]
        per = factor / of_pair
        of_cells = by_column(per.astype(np.float32), columns) * shares
        cells = of_cells.reshape(len(WIDTHS_M), len(STRIPS)).astype(np.float64)
        widths, strips = np.append(cells.sum(axis=1), (per * lost).sum()), cells.sum(axis=0)
        chance = (pair / of_pair)[named]
        right = mixture.name_right * match / (mixture.name_right * match + (1 - mixture.name_right) / near)
        agreed = (chance * right).sum() + right_weight * towards.name_right
        mixture = Mixture(
            (widths + weight * towards.widths) / (widths.sum() + weight),
            (strips + weight * towards.strips) / (strips.sum() + weight),
            float(np.clip(agreed / (chance.sum() + right_weight), *_NAMES_WITHIN)),
        )
        gained = float(np.log(total).sum())
        if abs(gained - last) < _ENOUGH * count:
            break
        last = gained
    return mixture
