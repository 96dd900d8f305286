"""The district of every core: one only, even where districts overlap or leave a gap."""

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.contracts import no_text
from pipeline.locate.areas import pairs_in
from pipeline.locate.candidates import EQUAL_M, nearest_shape

__all__ = ["find_districts"]


def find_districts(cores: pd.DataFrame, districts: gpd.GeoDataFrame | None, gap_m: float) -> pd.DataFrame:
    """Find the district of every core.

    Parameters
    ----------
    cores
        N rows with ``x_m`` and ``y_m`` in the run's CRS, in metres.
    districts
        One row per name, sorted by name, in the same CRS; None without such a layer. Of several that hold a core
        the first is used.
    gap_m
        A core outside every district is assigned to the nearest within this distance, in metres, also between
        districts: one further away may lie in a district that the layer does not have.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: ``district``, ``district_how`` (``inside``, ``several``, ``gap`` or ``outside``; missing
        without a position or a layer), ``district_others`` (the other districts that hold the core, joined by
        " and "), ``district_distance_m`` (to the nearest district, in metres, for a core outside every one).
    """
    index = cores.index
    text = no_text(index)
    out = pd.DataFrame(
        {
            "district": text,
            "district_how": text,
            "district_others": text,
            "district_distance_m": pd.Series(np.nan, index),
        }
    )
    if districts is None:
        return out
    names = districts["district"].to_numpy()
    shapes = np.asarray(districts.geometry.array)
    x, y = cores["x_m"].to_numpy(), cores["y_m"].to_numpy()
    pairs = pairs_in(x, y, shapes)
    there = pd.DataFrame({"core": pairs.point, "district": names[pairs.polygon], "inside": pairs.inside})
    # a core on a shared edge, inside neither, is in the first by name; inside several, the layer has an error
    first = there.sort_values(["core", "inside", "district"], ascending=[True, False, True]).groupby("core").first()
    out.loc[index[first.index], "district"] = first["district"].to_numpy()
    out.loc[index[first.index], "district_how"] = "inside"
    inside = there[there["inside"]]
    several = inside[inside.duplicated("core", keep=False)]
    others = several[several["district"].ne(several["core"].map(first["district"]))]
    joined = others.groupby("core")["district"].agg(" and ".join)
    out.loc[index[joined.index], "district_how"] = "several"
    out.loc[index[joined.index], "district_others"] = joined.to_numpy()
    nearest = _outside_all(x, y, out["district"].isna().to_numpy(), index, districts, gap_m)
    return out.assign(**{str(name): out[name].fillna(nearest[name]) for name in nearest})


def _outside_all(
    x: npt.NDArray[np.float64],
    y: npt.NDArray[np.float64],
    in_none: npt.NDArray[np.bool_],
    index: pd.Index,
    districts: gpd.GeoDataFrame,
    gap_m: float,
) -> pd.DataFrame:
    """Return the nearest district of each core in none: its own where it lies within ``gap_m``."""
    lost = np.flatnonzero(np.isfinite(x) & np.isfinite(y) & in_none)
    points = shapely.points(x[lost], y[lost])
    shapes = np.asarray(districts.geometry.array)
    # of districts equally near the first by name
    shape, distance = nearest_shape(points, shapely.STRtree(shapes))
    is_near = distance <= gap_m + EQUAL_M
    name = pd.Series(districts["district"].to_numpy()[shape], index[lost], dtype="str")
    return pd.DataFrame(
        {
            "district": name.where(is_near),
            "district_how": pd.Series(np.where(is_near, "gap", "outside"), index[lost], dtype="str"),
            "district_distance_m": pd.Series(distance, index[lost]),
        }
    )
