"""The surface of every core: from the polygon it lies in, else from its segment, else from the register."""

import geopandas as gpd
import numpy as np
import pandas as pd

from pipeline.contracts import no_text
from pipeline.locate.areas import pairs_in

__all__ = ["find_surfaces", "with_recorded_kinds"]


def find_surfaces(
    cores: pd.DataFrame,
    segment: pd.Series,
    segments: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame | None,
    recorded: pd.Series,
) -> pd.DataFrame:
    """Find the surface of every core.

    Parameters
    ----------
    cores
        N rows with ``x_m`` and ``y_m`` in the run's CRS, in metres.
    segment
        N rows of ``segments``, -1 for none.
    segments
        M lines with ``surface``: a catalogue name, or missing.
    surfaces
        Polygons with ``surface``, smallest first, in the same CRS; None without such a layer. Of several that hold a
        core the first is used.
    recorded
        N catalogue names of the surface in the register, or missing.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: ``surface`` ("unknown" where no source has one), ``surface_from`` (``polygon``, ``segment``,
        ``register`` or ``none``), ``surface_on_map`` (by polygon or segment alone) and ``surface_others`` (surfaces
        of other polygons that hold the core, joined by " and ").
    """
    index = cores.index
    by_polygon, others = _by_polygon(cores, surfaces)
    # row -1, of a core without a segment, is the missing value added at the end
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


def with_recorded_kinds(found: pd.DataFrame, recorded: pd.Series, wider: dict[str, str]) -> pd.DataFrame:
    """Return the surfaces, that of the register where it is a kind of the one on the map.

    A map that has "concrete" does not deny that the slab is reinforced, and whoever cut the core saw its bars.

    Parameters
    ----------
    found
        N rows with ``surface`` and ``surface_from``.
    recorded
        N catalogue names of the surface in the register, or missing.
    wider
        By the name of a surface the one that it is a kind of.
    """
    knows_more = recorded.map(wider).eq(found["surface"])
    return found.assign(
        surface=found["surface"].mask(knows_more, recorded),
        surface_from=found["surface_from"].mask(knows_more, "register"),
    )


def _by_polygon(cores: pd.DataFrame, surfaces: gpd.GeoDataFrame | None) -> tuple[pd.Series, pd.Series]:
    """Return the surface of the smallest polygon that holds each core, and the surfaces of the others that hold it."""
    index = cores.index
    by_polygon = no_text(index)
    others = no_text(index)
    if surfaces is not None and len(surfaces):
        pairs = pairs_in(cores["x_m"].to_numpy(), cores["y_m"].to_numpy(), np.asarray(surfaces.geometry.array))
        names = surfaces["surface"].to_numpy()
        there = pd.DataFrame({"core": pairs.point, "surface": names[pairs.polygon]})
        # a core on the shared edge of two polygons counts for the smaller; the two do not overlap there
        first = there.groupby("core")["surface"].first()
        by_polygon[index[first.index]] = first.to_numpy()
        inside = there[pairs.inside]
        others_inside = inside[inside["surface"].ne(inside["core"].map(first))].drop_duplicates()
        joined = others_inside.sort_values(["core", "surface"]).groupby("core")["surface"].agg(" and ".join)
        others[index[joined.index]] = joined.to_numpy()
    return by_polygon, others
