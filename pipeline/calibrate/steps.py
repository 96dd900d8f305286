"""The step that each crew records bags in, by its digits, and the litres that each record stands for.

A record in whole, half or quarter bags is a portion: what was mixed, or an amount rounded to it. Finer steps were read
off a scale, so they are rounded to the nearest.
"""

from collections.abc import Mapping
from typing import Final, Literal

import numpy as np
import pandas as pd

__all__ = ["COARSE_STEP", "HABITS", "NO_CREW", "SMALL_CREWS", "Rounded", "Rounding", "interval_l", "recorded_steps"]

Rounding = Literal["up", "nearest", "down"]
# how all crews round, or how each does by its name, and all others by no name
Rounded = Rounding | Mapping[str, Rounding]

HABITS: Final[tuple[Rounding, ...]] = ("up", "nearest", "down")
# steps from this up are portions of a bag; finer ones were read off a scale
COARSE_STEP: Final = 0.25
_STEPS: Final = (1.0, 0.5, COARSE_STEP, 0.2, 0.1, 0.05, 0.01)
# the share of a crew's records that are multiples of its step
_IN_STEP: Final = 0.9
# a handful of tenths may all be halves by chance, so crews with fewer records are taken together
_FEWEST_OF_A_CREW: Final = 20
NO_CREW: Final = "no crew named"
SMALL_CREWS: Final = f"crews with fewer than {_FEWEST_OF_A_CREW} records"
# where the interval of a record ends, in steps above the record
_ENDS: Final[dict[str, float]] = {"up": 0.0, "nearest": 0.5, "down": 1.0}


def recorded_steps(bags: pd.Series, crew: pd.Series) -> pd.DataFrame:
    """Return the step that each crew records bags in, and that of each record.

    Parameters
    ----------
    bags
        M numbers of bags, above zero.
    crew
        M names, empty where none is recorded.

    Returns
    -------
    pandas.DataFrame
        On ``bags.index``: ``crew``, ``group`` (the crew, or what it was taken together with), ``crew_step`` (the
        largest of 1, 1/2, 1/4, 1/5, 1/10, 1/20 and 1/100 that nine in ten of its records are multiples of), ``step``
        (that of the record: the finest if it is no multiple) and ``is_portion``.
    """
    named = crew.fillna("").astype("str").str.split().str.join(" ")
    # one spelling per crew: the one most used
    spelling = named.groupby(named.str.casefold()).agg(lambda names: names.mode().iloc[0])
    group = named.str.casefold().map(spelling).where(named.ne(""), NO_CREW)
    every = group
    is_small = group.groupby(group).transform("size").lt(_FEWEST_OF_A_CREW)
    group = group.mask(is_small & (len(group.unique()) > 1), SMALL_CREWS)
    crew_step, step = pd.Series(np.nan, bags.index), pd.Series(_STEPS[-1], bags.index)
    for size in _STEPS:
        fits = pd.Series(np.isclose(bags / size, (bags / size).round(), rtol=0, atol=1e-6), bags.index)
        here = crew_step.isna() & (fits.groupby(group).transform("mean").ge(_IN_STEP) | (size == _STEPS[-1]))
        crew_step = crew_step.mask(here, size)
        step = step.mask(here & fits, size)
    return pd.DataFrame(
        {"crew": every, "group": group, "crew_step": crew_step, "step": step, "is_portion": step.ge(COARSE_STEP)}
    )


def interval_l(used_l: pd.Series, step_l: pd.Series, habit: pd.Series) -> tuple[pd.Series, pd.Series]:
    """Return the least and the most litres that each of M records stands for.

    Parameters
    ----------
    used_l, step_l
        The litres recorded, and the step in litres.
    habit
        ``"up"``, ``"nearest"`` or ``"down"``.
    """
    most = used_l + habit.map(_ENDS).astype(float) * step_l
    return most - step_l, most
