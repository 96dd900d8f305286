"""How far from a position its road segment is looked for: the further, the larger the error of the position."""

from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.locate.learning import Outcome
from pipeline.locate.learning.fit import Mixture
from pipeline.locate.learning.masses import WIDTHS_M
from pipeline.locate.position_error import FAR, reach_of_rounding_m

__all__ = ["reach_by_learning_m", "reach_of_error_m", "whole_reach_m"]

Floats = npt.NDArray[np.float64]

# half the widest class of config/roads.toml: a core lies so far from the line of its road, and the error comes on top
_HALF_OF_WIDE_M: Final = 7.0


def reach_of_error_m(sigma_m: Floats | float, least_m: Floats | float, most_m: float) -> Floats:
    """Return half the width of a wide road and four standard deviations, in metres, within a floor and a ceiling.

    ``sigma_m``: standard deviations along one axis. The floor counts where it is above the ceiling.
    """
    reach: Floats = np.maximum(least_m, np.minimum(_HALF_OF_WIDE_M + FAR * np.asarray(sigma_m), most_m))
    return reach


def whole_reach_m(reach_m: pd.Series, least_m: float) -> pd.Series:
    """Return how far was looked as a sentence says it: whole metres, and no fewer than were set, rounding left out."""
    return reach_m.floordiv(1).astype(float).clip(lower=least_m)


def reach_by_learning_m(outcomes: list[Outcome], cores: pd.DataFrame, most_m: float) -> Floats:
    """Return how far the segments of N cores are looked for, in metres, after their errors were learnt.

    Parameters
    ----------
    outcomes
        What was learnt of each register.
    cores
        N rows with ``reach_m`` (the least) and ``rounding_m``, in metres, ``may_learn``, ``register`` and LEARNT_BY.
    most_m
        The ceiling, in metres, without what rounded digits add.
    """
    reach = cores["reach_m"].to_numpy(dtype=float).copy()
    rounding = reach_of_rounding_m(cores["rounding_m"].to_numpy(dtype=float))
    for outcome in outcomes:
        if not outcome.is_accepted:
            continue
        mine = (cores["may_learn"] & cores["register"].eq(outcome.register)).to_numpy(dtype=bool)
        sigma = np.full(len(cores), _sigma_of(outcome.mixture))
        for name, mixture in outcome.batches.items():
            sigma[cores[outcome.key].eq(name).to_numpy(dtype=bool)] = _sigma_of(mixture)
        learnt = reach_of_error_m(sigma, 0.0, most_m) + rounding
        reach[mine] = np.maximum(reach, learnt)[mine]
    return reach


def _sigma_of(mixture: Mixture) -> float:
    """Return the standard deviation along one axis, in metres, of the positions that are not lost."""
    shares = mixture.widths[:-1]
    return float(np.sqrt(shares @ WIDTHS_M**2 / shares.sum()))
