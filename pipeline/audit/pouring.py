"""What the limits of the rules set for pouring grout: the time from pour to traffic, and the air it is poured in."""

import numpy as np
import pandas as pd

from pipeline.audit import BoundRule, limits_of
from pipeline.audit.rules.placement import TemperatureLimits
from pipeline.audit.rules.timing import ReopeningLimits

__all__ = ["pouring_limits"]


def pouring_limits(rules: list[BoundRule], cores: pd.DataFrame) -> tuple[float, float, float, float, float]:
    """Return the strictest limits of N located cores, where limits differ by road.

    They are the minutes from pour to traffic, the temperature these are stated for, the temperature at which nothing
    hardens, and the lowest and the highest temperature for a pour.
    """
    needs = limits_of(rules, "reopened-too-soon", ReopeningLimits, cores)
    pours = limits_of(rules, "air-temperature-outside", TemperatureLimits, cores)
    return (
        float(np.max(needs.supplier_time_min)),
        float(np.max(needs.supplier_temperature_c)),
        float(np.max(needs.datum_temperature_c)),
        float(np.max(pours.min_temperature_c)),
        float(np.min(pours.max_temperature_c)),
    )
