"""The temperature of each day, whether grout may be poured, and how long it needs before traffic."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from pipeline.maturity import return_to_service_min
from pipeline.plan.crews import Bools, Days
from pipeline.plan.travel import Floats

__all__ = ["Curing", "curing_of"]


class Curing(NamedTuple):
    """By day: ``air_c`` (missing: not known), ``pours`` (whether grout may be poured), ``cure_min``."""

    air_c: Floats
    pours: Bools
    cure_min: Floats


def curing_of(days: Days, air_c: Floats | None, supplier: tuple[float, float, float], least_c: float) -> Curing:
    """Return how grout cures on each day.

    Parameters
    ----------
    days
        D days.
    air_c
        The lowest temperature of each day's working hours; None or missing: not known, the supplier's time serves.
    supplier
        The supplier's minutes to traffic, at its temperature, and the datum temperature of maturity.
    least_c
        The lowest temperature at which the grout may be poured.
    """
    air = np.full(len(days), np.nan) if air_c is None else air_c
    known = np.isfinite(air)
    minutes = return_to_service_min(pd.Series(np.where(known, air, supplier[1])), *supplier).to_numpy(float)
    return Curing(air, ~known | (air >= least_c), minutes)
