"""The position error of each register, and of its crews or methods, learnt from how its cores lie about the roads."""

from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.clock import uncounted
from pipeline.locate.learning.accept import FOLDS, Gain, folds_of, gain_of, held_out, numbered
from pipeline.locate.learning.apart import LEAST_BATCH, PULL, tell_apart, without_each_fold
from pipeline.locate.learning.fit import START, Batch, Mixture, fit, position_likelihood, score
from pipeline.locate.learning.masses import Masses, Spots, masses_of
from pipeline.locate.learning.reliability import RELIABILITY_COLUMNS, agreements, reliability_table
from pipeline.locate.learning.sample import Subjects, sample_of
from pipeline.locate.learning.shift import NO_SHIFT, Reading, read_shift
from pipeline.locate.learning.unmeasured import Lie, lies_beside, verdict_on
from pipeline.locate.posterior import Pieces

__all__ = [
    "LEAST_BATCH", "LEAST_REGISTER", "Learnt", "Outcome", "Question", "applied", "outcomes_of",
]  # fmt: skip

Floats = npt.NDArray[np.float64]
Rows = npt.NDArray[np.bool_]

# fewer cores do not tell the error from chance
LEAST_REGISTER: Final = 80
# one wild position does not decide whether the default or the learnt error serves
_DEFAULT_LOST: Final = 1e-3
# a shift is read off all streets: what its two numbers and the choice of a side explain by chance is no gain
_FREE_IN_SHIFT: Final = 3.0


class Question(NamedTuple):
    """P candidates of some of N cores, in the order of the cores.

    ``spots``, ``core``, ``match``, ``level``: of the P pairs. ``by_default``: P likelihoods of the positions under the
    default error, per metre. ``name_right``, ``names_near``: defaults. What follows is read by learning alone, and the
    pairs may then be those of the cores that are ``learnt_from``. ``line_street``: P numbers of the lines' streets, -1
    without a name. ``street``: N numbers of the street that each core is nearest to. ``lie``: where the N cores lie;
    None: their positions were measured, on roads of known widths. ``is_first``: no shift is looked for and no shares
    are judged, which takes longest.
    """

    subjects: Subjects
    spots: Spots
    pieces: Pieces
    core: npt.NDArray[np.intp]
    match: Floats
    level: Floats
    by_default: Floats
    name_right: float
    names_near: float
    line_street: npt.NDArray[np.intp] = np.empty(0, dtype=np.intp)
    street: npt.NDArray[np.intp] = np.empty(0, dtype=np.intp)
    lie: Lie | None = None
    is_first: bool = False

    @property
    def size(self) -> int:
        """Number of cores."""
        return len(self.subjects.learns)


class Outcome(NamedTuple):
    """What was learnt of one register.

    ``is_accepted``: whether the learnt error explains unseen streets better than the default, by ``gain``.
    ``reason``: "learnt", "few", "no better", "widths" (of no road), or what ``UNMEASURED`` names; ``share``: of the
    cores that show it. ``cores``: how many rest on it. ``key`` and ``batches``: what was
    told apart, and the mixture of each batch with enough cores; the others follow ``mixture``. ``reading``: what is
    said of a common shift.
    """

    register: str
    cores: int
    is_accepted: bool
    reason: str
    gain: Gain
    mixture: Mixture
    reading: Reading
    key: str
    batches: dict[str, Mixture]
    reliability: pd.DataFrame
    share: float = 0.0


class Learnt(NamedTuple):
    """What follows for P pairs and N cores.

    ``position``: P likelihoods, per metre. ``name_right``: P. ``widths``: N x widths (and lost), how likely each is the
    core's own, zero where the default serves. ``is_learnt``: N.
    """

    position: Floats
    name_right: Floats
    widths: Floats
    is_learnt: Rows


def outcomes_of(asked: Question) -> list[Outcome]:
    """Learn the error of each register from its own cores, and return what was learnt.

    Registers with few cores, and those whose positions the default explains as well, keep the default.
    """
    return [_learn_register(asked, name, mine) for name, mine in asked.subjects.each_register()]


def applied(asked: Question, outcomes: list[Outcome], told: Callable[[int], None] = uncounted) -> Learnt:
    """Return the likelihoods that follow from what was learnt; ``told`` is told how many pairs are done."""
    learnt = Learnt(
        asked.by_default.copy(),
        np.full(len(asked.core), asked.name_right),
        np.zeros((asked.size, len(START.widths))),
        np.zeros(asked.size, dtype=bool),
    )
    done, by_name = 0, {outcome.register: outcome for outcome in outcomes}
    for name, mine in asked.subjects.each_register():
        if by_name[name].is_accepted:
            done = _apply(asked, by_name[name], mine, learnt, told, done)
    return learnt


def _learn_register(asked: Question, name: str, mine: Rows) -> Outcome:
    count = int(mine.sum())
    no_table = pd.DataFrame(columns=list(RELIABILITY_COLUMNS))
    nothing = Outcome(name, count, False, "few", Gain(0.0, 0.0), START, NO_SHIFT, "", {}, no_table)
    if count < LEAST_REGISTER:
        return nothing
    lie = None if asked.lie is None else asked.lie.of(mine)
    if lie is not None and (verdict := verdict_on(lie)).reason:
        return nothing._replace(reason=verdict.reason, share=verdict.share)
    chosen, whole = sample_of(asked.subjects.keys, mine)
    batch, spots, street = _batch_of(asked, chosen)
    in_whole = whole[chosen]
    default = _default_scores(asked, chosen)[in_whole]
    fold, streets = folds_of(street), numbered(street[in_whole])
    # what is only compared is fitted to fewer rows; what is stated, to all
    summed, apart = batch.summed(), None
    wholes = without_each_fold(summed, in_whole, fold)
    above = _held_out_scores(summed, in_whole, fold, wholes) - default
    gain = gain_of(above, streets)
    if not gain.is_sure:
        # of two crews, one better and one worse than the default, the mean may be the default
        apart = tell_apart(asked.subjects.keys[chosen], summed, wholes, fold, street)
        above = above + apart.gained[in_whole]
        gain = gain_of(above, streets)
    mixture = fit(batch.of(in_whole))
    reading = NO_SHIFT
    if not asked.is_first:
        reading = read_shift(spots, asked.pieces, batch, in_whole, street, mixture)
    if lie is not None and not reading.moves and (verdict := lies_beside(lie)).reason:
        return nothing._replace(reason=verdict.reason, share=verdict.share, gain=gain)
    if reading.moves:
        batch = batch._replace(masses=reading.masses(spots, asked.pieces))
        summed, apart = batch.summed(), None
        mixture, wholes = fit(batch.of(in_whole)), without_each_fold(summed, in_whole, fold)
        if not gain.is_sure:
            # small errors and a shift may together look like the default
            moved = _held_out_scores(summed, in_whole, fold, wholes) - default
            gain = gain_of(moved - _FREE_IN_SHIFT / count, streets)
    if not gain.is_sure:
        return nothing._replace(reason="no better", gain=gain)
    apart = apart or tell_apart(asked.subjects.keys[chosen], summed, wholes, fold, street)
    key, batches = apart.key, {name: fit(batch.of(own), mixture, PULL) for name, own in apart.groups.items()}
    group = _groups(asked, chosen, key, batches)
    if asked.is_first:
        return Outcome(name, count, True, "learnt", gain, mixture, reading, key, batches, no_table)
    reliability = _reliability(asked, chosen, batch, without_each_fold(batch, in_whole, fold), fold, group)
    return Outcome(name, count, True, "learnt", gain, mixture, reading, key, batches, reliability)


def _groups(asked: Question, chosen: Rows, key: str, batches: dict[str, Mixture]) -> pd.Series:
    """Return the batch of each chosen core, "" for those that follow the register."""
    if not key:
        return pd.Series("", range(int(chosen.sum())), dtype="str")
    named = asked.subjects.keys[key][chosen].reset_index(drop=True)
    return named.where(named.isin(list(batches)), "").astype("str")


def _reliability(
    asked: Question, chosen: Rows, batch: Batch, wholes: list[Mixture], fold: npt.NDArray[np.intp], group: pd.Series
) -> pd.DataFrame:
    """Return how well stated shares hold on streets that were not learnt from."""
    here = np.flatnonzero(chosen[asked.core])
    position, right = np.zeros(len(here)), np.zeros(len(here))
    for number in range(FOLDS):
        whole = wholes[number]
        for name in sorted(set(group)):
            own = group.eq(name).to_numpy()
            mixture = fit(batch.of(own & (fold != number)), whole, PULL) if name else whole
            pairs = (own & (fold == number))[batch.core]
            position[pairs] = position_likelihood(batch.masses.part(pairs), mixture)
            right[pairs] = mixture.name_right
    street = asked.line_street[here]
    default = agreements(batch, street, asked.by_default[here], np.full(len(here), asked.name_right))
    learnt = agreements(batch, street, position, right)
    return reliability_table(group, {"before": default, "after": learnt})


def _batch_of(asked: Question, cores: Rows) -> tuple[Batch, Spots, npt.NDArray[np.intp]]:
    here = np.flatnonzero(cores[asked.core])
    spots = asked.spots.part(here)
    number = np.cumsum(cores) - 1
    masses = masses_of(spots, asked.pieces)
    batch = Batch(number[asked.core[here]], masses, asked.match[here], asked.level[here], asked.names_near)
    return batch, spots, numbered(asked.street[cores])


def _default_scores(asked: Question, cores: Rows) -> Floats:
    """Return the log likelihood of each marked core under the default error."""
    here = np.flatnonzero(cores[asked.core])
    spots = asked.spots.part(here)
    lost = 1 / (np.pi * spots.reach**2)
    number = np.cumsum(cores) - 1
    known = (1 - _DEFAULT_LOST) * asked.by_default[here] + _DEFAULT_LOST * lost
    plain = Masses(np.zeros((len(here), 0, 0), dtype=np.float32), known)
    only_lost = Mixture(np.ones(1), np.zeros(0), asked.name_right)
    return score(
        Batch(number[asked.core[here]], plain, asked.match[here], asked.level[here], asked.names_near), only_lost
    )


def _held_out_scores(batch: Batch, cores: Rows, fold: npt.NDArray[np.intp], wholes: list[Mixture]) -> Floats:
    return held_out(cores, fold, lambda number, _, to_score: score(batch.of(to_score), wholes[number]))


def _apply(
    asked: Question, outcome: Outcome, mine: Rows, learnt: Learnt, told: Callable[[int], None], done: int
) -> int:
    """Write into ``learnt`` what follows for the cores of one register; return how many pairs are ``done`` by then."""
    group = None
    if outcome.key:
        named = asked.subjects.keys[outcome.key]
        group = named.where(named.isin(list(outcome.batches)))
    rest = mine if group is None else mine & group.isna().to_numpy()
    parts = [(rest, outcome.mixture)]
    if group is not None:
        parts += [(mine & group.eq(name).to_numpy(), mixture) for name, mixture in outcome.batches.items()]
    for cores, mixture in parts:
        for pairs in _apply_mixture(asked, cores, mixture, outcome.reading, learnt):
            told(done := done + pairs)
    return done


_AT_A_TIME: Final = 200_000


def _apply_mixture(asked: Question, cores: Rows, mixture: Mixture, reading: Reading, learnt: Learnt) -> Iterator[int]:
    """Write into ``learnt`` what follows for some cores, and yield the number of pairs after each part of them."""
    every = np.flatnonzero(cores[asked.core])
    shares = np.outer(mixture.widths[:-1], mixture.strips)
    # numbered among these cores, so that a crew's few do not cost as much as all
    number = (np.cumsum(cores) - 1)[asked.core[every]]
    widths = np.zeros((int(cores.sum()), len(START.widths)))
    for begin in range(0, len(every), _AT_A_TIME):
        part = slice(begin, begin + _AT_A_TIME)
        here = every[part]
        masses = reading.masses(asked.spots.part(here), asked.pieces)
        by_width = np.einsum("pkl,kl->pk", masses.known, shares.astype(np.float32))
        by_width = np.column_stack([by_width, mixture.widths[-1] * masses.lost])
        # summed row by row: the last digits of a product of tables depend on which rows are beside each other
        learnt.position[here] = by_width.sum(axis=1)
        agreed = mixture.name_right * np.nan_to_num(asked.match[here]) + (1 - mixture.name_right) / asked.names_near
        factor = np.where(np.isnan(asked.match[here]), 1.0, agreed) * asked.level[here]
        _add_by_core(widths, number[part], by_width * factor[:, None])
        yield len(here)
    total = widths.sum(axis=1, keepdims=True)
    learnt.widths[cores] = np.divide(widths, total, out=widths, where=total > 0)
    learnt.name_right[every] = mixture.name_right
    learnt.is_learnt[cores] = True


def _add_by_core(widths: Floats, core: npt.NDArray[np.intp], by_pair: Floats) -> None:
    """Add the values of pairs, in the order of their cores, to those of the cores."""
    first, last = int(core[0]), int(core[-1])
    # the first core may have pairs that were added before: these come first
    place = np.concatenate([[0], core - first])
    for column, values in enumerate(by_pair.T):
        begun = widths[first, column]
        widths[first : last + 1, column] = np.bincount(place, np.concatenate([[begun], values]))
