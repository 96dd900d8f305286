"""The limits of the map's first view: the network, without outliers."""

from typing import Final

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.publish.map.cores import floats

__all__ = ["first_view"]

Floats = npt.NDArray[np.float64]

# degrees, about 100 m: a network of one short street, or one core alone, still gets some road around it
_LEAST_SPAN: Final = 0.001


def first_view(cores: pd.DataFrame, districts: gpd.GeoDataFrame | None, vertices: Floats) -> list[list[float]] | None:
    """Return the limits of the first view, ignoring outliers: latitude first, south-west and north-east corner."""
    positions = np.column_stack([floats(cores["lon"]), floats(cores["lat"])])
    is_placed = np.isfinite(positions).all(axis=1)
    placed = positions[is_placed]
    on_road = positions[is_placed & cores["segment_id"].notna().to_numpy()]
    if len(vertices):
        low, high = np.percentile(vertices, [1, 99], axis=0)
        spots = np.vstack([low, high, on_road])
    elif len(placed):
        spots = np.percentile(placed, [1, 99], axis=0)
    elif districts is not None and len(districts):
        spots = np.asarray(districts.total_bounds).reshape(2, 2)
    else:
        return None
    west, south = spots.min(axis=0) - _LEAST_SPAN / 2
    east, north = spots.max(axis=0) + _LEAST_SPAN / 2
    if not np.isfinite([west, south, east, north]).all():
        return None
    return [[round(float(south), 6), round(float(west), 6)], [round(float(north), 6), round(float(east), 6)]]
