"""What learning the errors of positions changed: street, surface and shade of each core, and the confidence before."""

from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd

from pipeline.locate.core_order import along_a_curve
from pipeline.locate.learnt_errors import LearntErrors, blurs_of
from pipeline.locate.likeliest import surface_chances, weigh_surfaces
from pipeline.locate.lines import Lines
from pipeline.locate.posterior import Evidence
from pipeline.locate.segments import find_segments
from pipeline.locate.surfaces import find_surfaces

__all__ = ["changed_by_learning"]

# the cores are weighed a second time only to count what changed, and that many give every share to a percent
_MOST: Final = 20_000


def changed_by_learning(
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame | None,
    recorded: pd.Series,
    evidence: Evidence | None,
    learnt: LearntErrors | None,
    after: pd.DataFrame,
    shade_of: dict[str, str],
    lines: Lines,
) -> pd.DataFrame | None:
    """Weigh cores with a learnt error once more as if nothing had been learnt, and return what differs.

    Parameters
    ----------
    cores
        N rows as :func:`pipeline.locate.segments.find_segments` takes them; ``sigma_m`` by default.
    segments, surfaces
        Layers in the same CRS.
    recorded
        N catalogue names of the surface in the register, or missing.
    evidence, learnt
        How names weigh, and what was learnt.
    after
        N rows with ``street_matched``, ``segment_id`` and ``surface`` as they are now.
    shade_of
        Shade of grout of each surface that cores are reinstated in.
    lines
        Those of the segments.

    Returns
    -------
    pandas.DataFrame
        On the index of the cores looked at, at most 20,000 that are spread evenly: ``street``, ``surface`` and
        ``shade`` (whether each is another than before), ``segment_before`` and ``surface_before`` (the confidences).
        None where nothing was learnt, or where the nearest segment is taken.
    """
    if evidence is None or learnt is None or not learnt.is_learnt.any():
        return None
    order = along_a_curve(cores)
    every = order[learnt.is_learnt[order]]
    if len(every) > _MOST:
        every = every[np.linspace(0, len(every) - 1, _MOST).round().astype(np.intp)]
    every = np.sort(every)
    part, recorded, after = cores.iloc[every], recorded.iloc[every], after.iloc[every]
    found = find_segments(part, segments, part["reach_m"].to_numpy(), evidence._replace(learn=False), lines)
    blurs = blurs_of(part["sigma_m"].to_numpy(), part["rounding_m"].to_numpy(), None)
    chances, edge_m = surface_chances(part, blurs, found.shares, segments, surfaces, recorded)
    surface = find_surfaces(part, found.frame["segment"], segments, surfaces, recorded)
    surface = weigh_surfaces(surface, chances, edge_m, part["x_m"].notna(), shade_of)
    return pd.DataFrame(
        {
            "street": _street(found.frame).ne(_street(after)),
            "surface": surface["surface"].ne(after["surface"]),
            "shade": surface["surface"].map(shade_of).fillna("").ne(after["surface"].map(shade_of).fillna("")),
            "segment_before": found.frame["segment_confidence"],
            "surface_before": surface["surface_confidence"],
        }
    )


def _street(found: pd.DataFrame) -> pd.Series:
    """Return the street of each core; a segment without a name is a street of its own."""
    return found["street_matched"].fillna(found["segment_id"]).fillna("")
