"""Errors of positions that nobody stated, learnt from the register, as the weighing of segments takes them."""

from collections.abc import Callable
from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.clock import uncounted
from pipeline.contracts import no_text
from pipeline.locate.candidates import Pairs
from pipeline.locate.learning import Learnt, Outcome, Question, Subjects, applied, learnt_from, outcomes_of
from pipeline.locate.learning.masses import WIDTHS_M, Spots
from pipeline.locate.learning.unmeasured import Lie
from pipeline.locate.posterior import Evidence, Pieces, Weights, name_likelihood, pair_likelihood

__all__ = [
    "LEARNT_BY",
    "Blurs",
    "Learning",
    "LearntErrors",
    "blurs_of",
    "learn_errors",
    "said_of_learning",
    "with_learnt",
]  # fmt: skip

# what may have an error of its own within a register
LEARNT_BY: Final = ("position_method", "contractor", "crew")
# blurs less likely than this are left out: where a core may be in an area, they hardly count
_LEAST_SHARE: Final = 0.02


class LearntErrors(NamedTuple):
    """What was learnt of the errors of N cores.

    ``widths``: N x the standard deviations of ``sigmas`` (metres, along one axis), how likely each is the core's own;
    all zero where nothing was learnt. ``outcomes``: what was learnt of each register.
    """

    widths: npt.NDArray[np.float64]
    sigmas: npt.NDArray[np.float64]
    outcomes: list[Outcome]

    @property
    def is_learnt(self) -> npt.NDArray[np.bool_]:
        """Which cores rest on a learnt error."""
        is_learnt: npt.NDArray[np.bool_] = self.widths.sum(axis=1) > 0
        return is_learnt

    @property
    def sigma_m(self) -> npt.NDArray[np.float64]:
        """The standard deviation of each core's position along one axis, in metres, without that of rounding."""
        sigma: npt.NDArray[np.float64] = np.sqrt(self.widths @ self.sigmas**2)
        return sigma


class Blurs(NamedTuple):
    """The error of N cores as Q round normals: ``core`` (position among the N, ascending), ``sigma`` (metres, along one
    axis), and ``share`` (adds up to one per core)."""

    core: npt.NDArray[np.intp]
    sigma: npt.NDArray[np.float64]
    share: npt.NDArray[np.float64]

    def of(self, cores: npt.NDArray[np.intp], count: int) -> "Blurs":
        """Return those of some of ``count`` cores, numbered by their place among the some."""
        number = np.full(count, -1)
        number[cores] = np.arange(len(cores))
        here = number[self.core] >= 0
        return Blurs(number[self.core[here]], self.sigma[here], self.share[here])

    def widest(self, count: int) -> npt.NDArray[np.float64]:
        """Return the widest of each of ``count`` cores."""
        widest = np.zeros(count)
        np.maximum.at(widest, self.core, self.sigma)
        return widest


def blurs_of(
    sigma_m: npt.NDArray[np.float64], rounding_m: npt.NDArray[np.float64], learnt: LearntErrors | None
) -> Blurs:
    """Return the errors of N cores: the learnt mixture, or the one normal that was stated or is the default.

    ``sigma_m``: with the error of rounding; ``rounding_m``: that error, which is added to learnt ones.
    """
    every = np.arange(len(sigma_m))
    if learnt is None:
        return Blurs(every, sigma_m, np.ones(len(sigma_m)))
    stated = every[~learnt.is_learnt]
    core, width = np.nonzero(learnt.widths)
    core, sigma, share = (
        np.concatenate(parts)
        for parts in (
            (stated, core),
            (sigma_m[stated], np.hypot(learnt.sigmas[width], rounding_m[core])),
            (np.ones(len(stated)), learnt.widths[core, width]),
        )
    )
    order = np.argsort(core, kind="stable")
    return Blurs(core[order], sigma[order], share[order])


def said_of_learning(cores: pd.DataFrame, learnt: LearntErrors | None) -> pd.DataFrame:
    """Return why each of N cores has the error that it has, where nobody stated it.

    Parameters
    ----------
    cores
        N rows with ``may_learn``, ``register`` and LEARNT_BY.
    learnt
        What was learnt of them; None where nothing is.

    Returns
    -------
    pandas.DataFrame
        On the index of the cores: ``learnt_by`` (the column whose cores of one name the error was learnt from,
        "register" for all of a register), missing where no error was learnt; ``not_learnt`` (the reason).
    """
    outcomes = [] if learnt is None else learnt.outcomes
    if not outcomes:
        return pd.DataFrame({"learnt_by": no_text(cores.index), "not_learnt": no_text(cores.index)})
    register, may = cores["register"], cores["may_learn"]
    why = register.map({one.register: one.reason for one in outcomes if not one.is_accepted}).where(may)
    by = register.map({one.register: "register" for one in outcomes if one.is_accepted})
    by = by.where(may & (learnt.is_learnt if learnt else False))
    for one in outcomes:
        if one.key:
            by = by.mask(by.notna() & register.eq(one.register) & cores[one.key].isin(list(one.batches)), one.key)
    return pd.DataFrame({"learnt_by": by, "not_learnt": why}).astype("str")


class Learning(NamedTuple):
    """What was learnt from a register: the ``outcomes``, and how wide the error of a lost core is, in metres."""

    outcomes: list[Outcome]
    lost_m: float

    def applicable(self) -> "Learning":
        """Return the same without what is only reported."""
        return self._replace(outcomes=[one._replace(reliability=one.reliability.iloc[:0]) for one in self.outcomes])


def learn_errors(
    pairs: Pairs, cores: pd.DataFrame, segments: gpd.GeoDataFrame, evidence: Evidence, pieces: Pieces, *, is_first: bool
) -> Learning:
    """Return what the register itself tells of its errors.

    Parameters
    ----------
    pairs
        P pairs, by position among N ``cores`` and ``segments``, in the order of the cores.
    cores
        ``x_m``, ``y_m``, ``sigma_m``, ``rounding_m``, ``reach_m`` (metres), ``street_form``, ``may_learn`` (nobody
        stated the core's accuracy), ``register`` and LEARNT_BY.
    segments
        ``half_width_m``, ``has_width`` (where known), ``street_form`` and ``is_underground``.
    evidence
        How names weigh by default.
    pieces
        The straight pieces of the segments.
    is_first
        Whether it is only asked how far segments are to be looked for.
    """
    subjects = _subjects(cores, pairs)
    own = np.flatnonzero(learnt_from(subjects)[pairs.core])
    few = pairs.of(own)
    weights = pair_likelihood(few, cores, segments, evidence, pieces)
    nearest = _nearest_pairs(pairs)
    asked = _asked(few, cores, segments, weights, evidence, pieces)._replace(
        subjects=subjects,
        line_street=pd.factorize(segments["street_form"])[0][few.line],
        street=_nearest_street(pairs, nearest, segments, len(cores)),
        lie=_lie(pairs, nearest, cores, segments),
        is_first=is_first,
    )
    # a lost core is somewhere within reach: a normal of half of it
    return Learning(outcomes_of(asked), (float(cores["reach_m"].median()) if len(cores) else 1.0) / 2)


def with_learnt(
    pairs: Pairs,
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    weights: Weights,
    evidence: Evidence,
    pieces: Pieces,
    learning: Learning,
    told: Callable[[int], None] = uncounted,
) -> tuple[Weights, LearntErrors]:
    """Return the weights of P pairs with what was learnt, and the errors of the N cores.

    The other arguments are those of :func:`learn_errors`; ``told`` is told how many pairs are done.
    """
    learnt = applied(_asked(pairs, cores, segments, weights, evidence, pieces), learning.outcomes, told)
    changed = weights._replace(
        position=learnt.position,
        is_beyond_error=weights.is_beyond_error & ~learnt.is_learnt[pairs.core],
        name=name_likelihood(weights.around, evidence, learnt.name_right),
    )
    return changed, _errors(learnt, learning)


def _subjects(cores: pd.DataFrame, pairs: Pairs) -> Subjects:
    return Subjects(
        cores["register"].to_numpy(dtype=object),
        cores[[name for name in LEARNT_BY if name in cores]].reset_index(drop=True),
        cores["may_learn"].to_numpy(dtype=bool) & (np.bincount(pairs.core, minlength=len(cores)) > 0),
    )


def _asked(
    pairs: Pairs, cores: pd.DataFrame, segments: gpd.GeoDataFrame, weights: Weights, evidence: Evidence, pieces: Pieces
) -> Question:
    """Return what is asked of the pairs, as far as what was learnt is applied to them."""
    core, line = pairs.core, pairs.line
    spots = Spots(
        cores["x_m"].to_numpy(dtype=float)[core],
        cores["y_m"].to_numpy(dtype=float)[core],
        cores["rounding_m"].to_numpy(dtype=float)[core],
        line,
        segments["half_width_m"].to_numpy()[line],
        cores["reach_m"].to_numpy(dtype=float)[core],
    )
    return Question(
        subjects=_subjects(cores, pairs),
        spots=spots,
        pieces=pieces,
        core=core,
        match=weights.around,
        level=weights.level,
        by_default=weights.position,
        name_right=evidence.name_right,
        names_near=evidence.names_near,
    )


def _errors(learnt: Learnt, learning: Learning) -> LearntErrors:
    widths = np.where(learnt.widths < _LEAST_SHARE, 0.0, learnt.widths)
    total = widths.sum(axis=1, keepdims=True)
    np.divide(widths, total, out=widths, where=total > 0)
    return LearntErrors(widths, np.append(WIDTHS_M, learning.lost_m), learning.outcomes)


def _nearest_pairs(pairs: Pairs) -> npt.NDArray[np.intp]:
    """Return the pair with the nearest line of each core that has one, in the order of the cores."""
    order = np.lexsort((pairs.line, pairs.distance, pairs.core))
    first: npt.NDArray[np.intp] = order[np.unique(pairs.core[order], return_index=True)[1]]
    return first


def _nearest_street(
    pairs: Pairs, nearest: npt.NDArray[np.intp], segments: gpd.GeoDataFrame, count: int
) -> npt.NDArray[np.intp]:
    """Return a number for the street of the line nearest to each core; a line without a name is its own street."""
    street, names = pd.factorize(segments["street_form"])
    street = np.where(street >= 0, street, len(names) + np.arange(len(street)))
    found = np.full(count, len(names) + len(street))
    found[pairs.core[nearest]] = street[pairs.line[nearest]]
    numbers: npt.NDArray[np.intp] = np.unique(found, return_inverse=True)[1]
    return numbers


def _lie(pairs: Pairs, nearest: npt.NDArray[np.intp], cores: pd.DataFrame, segments: gpd.GeoDataFrame) -> Lie:
    """Return where each core lies beside its nearest line; values of those without one are never asked for."""
    line = np.zeros(len(cores), dtype=np.intp)
    distance = np.full(len(cores), np.inf)
    line[pairs.core[nearest]] = pairs.line[nearest]
    distance[pairs.core[nearest]] = pairs.distance[nearest]
    has_width = segments["has_width"].to_numpy(dtype=bool) if "has_width" in segments else np.ones(len(segments), bool)
    x, y, rounding, reach = (cores[name].to_numpy(dtype=np.float64) for name in ("x_m", "y_m", "rounding_m", "reach_m"))
    half = segments["half_width_m"].to_numpy(dtype=np.float64)[line]
    return Lie(x, y, distance, half, reach, rounding, has_width[line])
