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
from pipeline.locate.learning import Learnt, Outcome, Question, learn, outcomes_of
from pipeline.locate.learning.masses import WIDTHS_M, Spots
from pipeline.locate.learning.unmeasured import Lie
from pipeline.locate.posterior import Evidence, Pieces, Weights, name_likelihood

__all__ = ["LEARNT_BY", "Blurs", "LearntErrors", "blurs_of", "first_outcomes", "learn_errors", "said_of_learning"]

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

    def in_order(self, placed: npt.NDArray[np.intp], count: int) -> "LearntErrors":
        """Return the same for ``count`` cores, of which these are those at ``placed``."""
        widths = np.zeros((count, self.widths.shape[1]))
        widths[placed] = self.widths
        return self._replace(widths=widths)


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


def learn_errors(
    pairs: Pairs,
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    weights: Weights,
    evidence: Evidence,
    pieces: Pieces,
    told: Callable[[int], None] = uncounted,
) -> tuple[Weights, LearntErrors]:
    """Return the weights of P pairs with what the register itself tells of its errors.

    Parameters
    ----------
    pairs
        P pairs, by position among N ``cores`` and ``segments``, in the order of the cores.
    cores
        ``x_m``, ``y_m``, ``rounding_m``, ``reach_m`` (metres), ``may_learn`` (nobody stated the core's accuracy),
        ``register`` and LEARNT_BY.
    segments
        ``half_width_m``, ``has_width`` (where known) and ``street_form``.
    weights
        Of the P pairs under the default error.
    evidence
        How names weigh by default.
    pieces
        The straight pieces of the segments.
    told
        Is told how many pairs are done.
    """
    order = np.lexsort((pairs.line, pairs.core))
    learnt = learn(_asked(order, pairs, cores, segments, weights, evidence, pieces), told)
    back = np.empty(len(order), dtype=np.intp)
    back[order] = np.arange(len(order))
    position, right = learnt.position[back], learnt.name_right[back]
    changed = weights._replace(
        position=position,
        is_beyond_error=weights.is_beyond_error & ~learnt.is_learnt[pairs.core],
        name=name_likelihood(weights.around, evidence, right),
    )
    return changed, _errors(learnt, cores)


def first_outcomes(
    pairs: Pairs, cores: pd.DataFrame, segments: gpd.GeoDataFrame, weights: Weights, evidence: Evidence, pieces: Pieces
) -> list[Outcome]:
    """Return what the register itself tells of its errors as far as it matters to how far segments are looked for.

    The arguments are those of :func:`learn_errors`.
    """
    order = np.lexsort((pairs.line, pairs.core))
    return outcomes_of(_asked(order, pairs, cores, segments, weights, evidence, pieces)._replace(is_first=True))


def _asked(
    order: npt.NDArray[np.intp],
    pairs: Pairs,
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    weights: Weights,
    evidence: Evidence,
    pieces: Pieces,
) -> Question:
    """Return what is asked of the pairs, in the order of their cores, which is given."""
    core, line = pairs.core[order], pairs.line[order]
    spots = Spots(
        cores["x_m"].to_numpy(dtype=float)[core],
        cores["y_m"].to_numpy(dtype=float)[core],
        cores["rounding_m"].to_numpy(dtype=float)[core],
        line,
        segments["half_width_m"].to_numpy()[line],
        cores["reach_m"].to_numpy(dtype=float)[core],
    )
    nearest = _nearest_pairs(pairs)
    return Question(
        spots=spots,
        pieces=pieces,
        core=core,
        match=weights.around[order],
        level=weights.level[order],
        line_street=pd.factorize(segments["street_form"])[0][line],
        by_default=weights.position[order],
        street=_nearest_street(pairs, nearest, segments, len(cores)),
        register=cores["register"].to_numpy(dtype=object),
        keys=cores[[name for name in LEARNT_BY if name in cores]].reset_index(drop=True),
        may_learn=cores["may_learn"].to_numpy(dtype=bool),
        name_right=evidence.name_right,
        names_near=evidence.names_near,
        lie=_lie(pairs, nearest, cores, segments),
    )


def _errors(learnt: Learnt, cores: pd.DataFrame) -> LearntErrors:
    # a lost core is somewhere within reach: a normal of half of it
    reach = float(cores["reach_m"].median()) if len(cores) else 1.0
    widths = np.where(learnt.widths < _LEAST_SHARE, 0.0, learnt.widths)
    total = widths.sum(axis=1, keepdims=True)
    np.divide(widths, total, out=widths, where=total > 0)
    return LearntErrors(widths, np.append(WIDTHS_M, reach / 2), learnt.outcomes)


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
