"""How long grout needs before traffic: maturity at the temperature of the air."""

import numpy as np
import pandas as pd

__all__ = ["return_to_service_min"]


def return_to_service_min(
    air_c: pd.Series, supplier_min: float | pd.Series, supplier_c: float | pd.Series, datum_c: float | pd.Series
) -> pd.Series:
    """Return the minutes before traffic at an air temperature: the supplier's time, longer where it was colder.

    Maturity after Nurse and Saul, M = sum of (T - datum) x time (ASTM C1074): the maturity of the supplier's time at
    the supplier's temperature is reached at temperature T after time x (supplier_c - datum) / (T - datum). Never less
    than the supplier's time; infinite at or below the datum. A sanity figure: C1074 requires the mix to be calibrated.

    Parameters
    ----------
    air_c
        N temperatures, degrees Celsius.
    supplier_min, supplier_c, datum_c
        The supplier's time, the temperature it is stated for, the temperature at which nothing hardens.
    """
    above = air_c - datum_c
    scaled = supplier_min * (supplier_c - datum_c) / above.where(above.gt(0))
    return scaled.where(scaled.gt(supplier_min), supplier_min).where(above.gt(0), np.inf)
