"""The surface of every core: by polygon, else by segment, else as the register says."""

import geopandas as gpd
import numpy as np
import pandas as pd

from pipeline.contracts import no_text
from pipeline.locate.areas import pairs_in

__all__ = ["find_surfaces"]


def find_surfaces(
    cores: pd.DataFrame,
    segment: pd.Series,
    segments: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame | None,
    recorded: pd.Series,
) -> pd.DataFrame:
    """Give every core its surface.

    Parameters
    ----------
    cores
        N rows with ``x_m`` and ``y_m`` in the run's CRS, in metres.
    segment
        N rows of ``segments``, -1 for none.
    segments
        M lines with ``surface``: a catalogue name, or missing.
    surfaces
        Polygons with ``surface``, smallest first, in the same CRS; None without such a layer. Of several that
        hold a core the first serves.
    recorded
        N catalogue names as the register says, or missing.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: ``surface`` ("unknown" where nothing tells), ``surface_from``, ``surface_on_map``
        (without the register) and ``surface_others`` (of other polygons there, joined by " and ").
    """
    index = cores.index
    by_polygon = no_text(index)
    others = no_text(index)
    if surfaces is not None and len(surfaces):
        pairs = pairs_in(cores["x_m"].to_numpy(), cores["y_m"].to_numpy(), np.asarray(surfaces.geometry.array))
        names = surfaces["surface"].to_numpy()
        there = pd.DataFrame({"core": pairs.point, "surface": names[pairs.polygon]})
        # a core on the common edge of two polygons lies in the smaller; they do not overlap there
        first = there.groupby("core")["surface"].first()
        by_polygon[index[first.index]] = first.to_numpy()
        inside = there[pairs.inside]
        strange = inside[inside["surface"].ne(inside["core"].map(first))].drop_duplicates()
        joined = strange.sort_values(["core", "surface"]).groupby("core")["surface"].agg(" and ".join)
        others[index[joined.index]] = joined.to_numpy()
    # row -1, for a core without a segment, is the one added at the end
    of_segments = np.append(segments["surface"].to_numpy(dtype=object), np.nan)
    by_segment = pd.Series(of_segments[segment.to_numpy()], index, dtype="str")

    on_map = by_polygon.fillna(by_segment)
    surface = on_map.fillna(recorded)
    source = np.select(
        [by_polygon.notna(), by_segment.notna(), recorded.notna()], ["polygon", "segment", "register"], "none"
    )
    return pd.DataFrame(
        {
            "surface": surface.fillna("unknown"),
            "surface_from": pd.Series(source, index, dtype="str"),
            "surface_on_map": on_map,
            "surface_others": others,
        }
    )
