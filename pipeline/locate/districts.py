"""The district of every core: exactly one, also where districts overlap or leave a gap."""

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.contracts import no_text
from pipeline.locate.areas import pairs_in

__all__ = ["find_districts"]


def find_districts(cores: pd.DataFrame, districts: gpd.GeoDataFrame | None, gap_m: float) -> pd.DataFrame:
    """Give every core its district.

    Parameters
    ----------
    cores
        N rows with ``x_m`` and ``y_m`` in the run's CRS, in metres.
    districts
        One row a name, sorted by it, in the same CRS; None without such a layer. Of several that hold a core
        the first serves.
    gap_m
        A core in none takes the nearest within this distance, in metres; between districts, at any distance.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: ``district``, ``district_how`` (``inside``, ``several``, ``gap`` or ``outside``; missing
        without a position or a layer), ``district_others``, ``district_distance_m``.
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
    # a core on a common edge, inside neither, is in the first by name; one inside several is a slip of the layer
    first = there.sort_values(["core", "inside", "district"], ascending=[True, False, True]).groupby("core").first()
    out.loc[index[first.index], "district"] = first["district"].to_numpy()
    out.loc[index[first.index], "district_how"] = "inside"
    inside = there[there["inside"]]
    several = inside[inside.duplicated("core", keep=False)]
    spare = several[several["district"].ne(several["core"].map(first["district"]))]
    joined = spare.groupby("core")["district"].agg(" and ".join)
    out.loc[index[joined.index], "district_how"] = "several"
    out.loc[index[joined.index], "district_others"] = joined.to_numpy()

    lost = np.flatnonzero(np.isfinite(x) & np.isfinite(y) & out["district"].isna().to_numpy())
    if len(lost):
        points = shapely.points(x[lost], y[lost])
        (point, shape), distance = shapely.STRtree(shapes).query_nearest(points, return_distance=True)
        # districts equally near: the first by name
        nearest = pd.DataFrame({"shape": shape, "distance": distance}).groupby(point).min()
        between = shapely.intersects(shapely.convex_hull(shapely.union_all(shapes)), points)
        serves = between | (nearest["distance"].to_numpy() <= gap_m)
        where = index[lost]
        out.loc[where, "district_distance_m"] = nearest["distance"].to_numpy()
        out.loc[where, "district_how"] = np.where(serves, "gap", "outside")
        out.loc[where[serves], "district"] = names[nearest["shape"].to_numpy()[serves]]
    return out
