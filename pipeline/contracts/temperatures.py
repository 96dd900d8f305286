"""The temperatures of the air that a plan goes by, as intake reads them."""

from typing import NamedTuple

import pandas as pd

__all__ = ["Temperatures"]


class Temperatures(NamedTuple):
    """A forecast and a seasonal table, in degrees Celsius; each has a row per time, and may have none.

    ``hours``: ``at`` (instants of local time, ascending, each once) and ``air_c``. ``days``: ``day``, ``low_c`` and
    ``high_c``. ``months``: ``month`` (1 to 12), ``low_c`` and ``high_c``.
    """

    hours: pd.DataFrame
    days: pd.DataFrame
    months: pd.DataFrame
