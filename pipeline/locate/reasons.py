"""Why each core was placed where it is: its position error, each candidate segment, each possible surface."""

from typing import NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.locate.candidates import BestTwo, Pairs
from pipeline.locate.learning import Outcome
from pipeline.locate.posterior import Weights

__all__ = ["CANDIDATE_COLUMNS", "LEAST_CHANCE", "Reasons", "nearest_candidates", "weighed_candidates"]

CANDIDATE_COLUMNS = (
    "core", "segment", "distance_m", "lines", "half_width_m", "position_likelihood", "is_beyond_error", "name_match",
    "name_likelihood", "level_likelihood", "chance",
)  # fmt: skip
# candidates less likely than this are not kept: a position written to few digits has hundreds of them
LEAST_CHANCE = 1e-6


class Reasons(NamedTuple):
    """What the place of N cores follows from; ``core`` is the position of a core among the N.

    ``errors``: N rows on the index of the cores: ``accuracy_used_m`` (radius that holds 95 % of the errors),
    ``accuracy_from`` (``core``, ``method``, ``register``, ``programme``, ``default`` or ``learnt``), ``sigma_m``
    (standard deviation along one axis, with the error of rounding), ``reach_m`` (how far segments were looked for),
    and ``learnt_by`` and ``not_learnt`` (what an error was learnt from, or why not). ``candidates``: rows of
    CANDIDATE_COLUMNS, by core. ``surfaces``: rows of ``core``, ``name``, ``source`` and ``chance``; None where
    nothing was weighed. ``learning``: what was learnt of the errors of each register. ``changed``: what that
    changed, as ``pipeline.locate.changed`` returns it; None where nothing was learnt.
    """

    errors: pd.DataFrame
    candidates: pd.DataFrame
    surfaces: pd.DataFrame | None
    learning: list[Outcome]
    changed: pd.DataFrame | None = None


def weighed_candidates(
    pairs: Pairs,
    segment_of_line: npt.NDArray[np.intp],
    weights: Weights,
    shares: pd.DataFrame,
    segments: gpd.GeoDataFrame,
) -> pd.DataFrame:
    """Return each candidate segment with its likelihood and what it is made of.

    Parameters
    ----------
    pairs
        P pairs of a core and a line.
    segment_of_line
        Number of each line's segment.
    weights
        Of the P pairs.
    shares
        One row per core and segment, as ``pipeline.locate.candidates.likeliest_two`` returns them.
    segments
        The lines, with ``half_width_m``.

    Returns
    -------
    pandas.DataFrame
        CANDIDATE_COLUMNS. Where a segment has several lines, ``segment`` and ``distance_m`` are the nearest one's and
        the likelihoods their weighted means, so that their product is the sum over the lines.
    """
    number = segment_of_line[pairs.line]
    # a core and a segment as one number: the shares are sorted by it
    key = pairs.core * np.int64(number.max(initial=0) + 1) + number
    row = np.searchsorted(key[shares["pair"].to_numpy()], key)

    def summed(weight: npt.NDArray[np.float64] | None) -> npt.NDArray[np.float64]:
        return np.bincount(row, weight, minlength=len(shares)).astype(float)

    by_position = summed(weights.position)
    by_name = summed(weights.position * weights.name)
    nearest = shares["pair"].to_numpy()
    table = pd.DataFrame(
        {
            "core": shares["core"].to_numpy(),
            "segment": shares["segment"].to_numpy(),
            "distance_m": pairs.distance[nearest],
            "lines": summed(None).astype(np.int64),
            "half_width_m": segments["half_width_m"].to_numpy()[pairs.line[nearest]],
            "position_likelihood": by_position,
            "is_beyond_error": weights.is_beyond_error[nearest],
            "name_match": weights.match[nearest],
            "name_likelihood": _ratio(by_name, by_position, weights.name[nearest]),
            "level_likelihood": _ratio(summed(weights.likelihood), by_name, weights.level[nearest]),
            "chance": shares["share"].clip(0, 1).to_numpy(),
        }
    )
    return table[table["chance"].ge(LEAST_CHANCE)].reset_index(drop=True)


def _ratio(
    part: npt.NDArray[np.float64], total: npt.NDArray[np.float64], otherwise: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """Return part / total; ``otherwise`` where the total is zero."""
    ratio: npt.NDArray[np.float64] = np.divide(part, total, out=otherwise.astype(float), where=total > 0)
    return ratio


def nearest_candidates(pairs: Pairs, best: BestTwo) -> pd.DataFrame:
    """Return the nearest segment of each core and the next nearest, where nothing is weighed: CANDIDATE_COLUMNS."""
    taken = np.concatenate([pair[pair >= 0] for pair in best])
    table = pd.DataFrame(
        {
            "core": pairs.core[taken],
            "segment": pairs.line[taken],
            "distance_m": pairs.distance[taken],
            "lines": 1,
            "is_beyond_error": False,
        }
    )
    return table.reindex(columns=list(CANDIDATE_COLUMNS)).sort_values(["core", "distance_m"], ignore_index=True)
