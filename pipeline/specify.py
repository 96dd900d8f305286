"""Specify: whether the surface can take a core, and its shade of grout and bedding."""

import numpy as np
import pandas as pd

from pipeline.programme.catalogue import Catalogue

__all__ = ["specify"]


def specify(located: pd.DataFrame, catalogue: Catalogue) -> pd.DataFrame:
    """Return shade and bedding by surface.

    Parameters
    ----------
    located
        N rows with ``surface``: a catalogue name.
    catalogue
        The surfaces.

    Returns
    -------
    pandas.DataFrame
        On ``located.index``: ``reinstatable``, ``shade`` and ``bedding`` (missing where no core can be reinstated).
    """
    takes_core = {name: surface for name, surface in catalogue.surfaces.items() if surface.reinstate}
    shade = located["surface"].map({name: surface.shade for name, surface in takes_core.items()})
    bedding = located["surface"].map({name: surface.bedding for name, surface in takes_core.items()})
    return pd.DataFrame(
        {
            "reinstatable": located["surface"].isin(list(takes_core)),
            "shade": shade.where(shade.notna(), np.nan).astype("str"),
            "bedding": bedding.where(bedding.notna(), np.nan).astype("str"),
        }
    )
