"""Locate: every core's road segment, surface and district."""

import geopandas as gpd
import pandas as pd

from pipeline.catalogue import Catalogue
from pipeline.locate.districts import find_districts
from pipeline.locate.segments import find_segments
from pipeline.locate.surfaces import find_surfaces
from pipeline.settings import Matching

__all__ = ["locate"]


def locate(
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame | None,
    districts: gpd.GeoDataFrame | None,
    matching: Matching,
    catalogue: Catalogue,
) -> pd.DataFrame:
    """Find segment, surface and district of every core.

    Parameters
    ----------
    cores
        N rows with ``x_m``, ``y_m`` (run's CRS, metres) and ``surface_recorded``.
    segments, surfaces, districts
        The layers in the same CRS; the last two may be None.
    matching
        Reach and gap, in metres.
    catalogue
        Names the surfaces that the register writes.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: the contract's located columns, ``segment`` (row of ``segments``, -1 for none),
        ``surface_recorded_name`` and ``surface_says_nothing`` (the register writes "unknown" or the like).
    """
    found = find_segments(cores, segments, matching.max_distance_m)
    written = catalogue.surface_names(cores["surface_recorded"])
    recorded = written.where(written.ne("unknown"))
    surface = find_surfaces(cores, found["segment"], segments, surfaces, recorded)
    district = find_districts(cores, districts, matching.district_gap_m)
    register = pd.DataFrame({"surface_recorded_name": recorded, "surface_says_nothing": written.eq("unknown")})
    return pd.concat([found, surface, district, register], axis="columns")
