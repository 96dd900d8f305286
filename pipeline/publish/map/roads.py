"""The road segments as the map draws them, and which ones it keeps when there are too many."""

from typing import Final

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.contracts import no_text
from pipeline.publish.map.cores import mercator
from pipeline.publish.map.packing import Ints, bundle, pack_ids, pack_ints, pack_texts
from pipeline.publish.map.streets import pack_along, place_along_streets

__all__ = ["MOST_ROADS", "choose_roads", "pack_roads"]

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# degrees of latitude, half a metre: less than the width of any line on the page
ROAD_TOLERANCE: Final = 5e-6
# more lines than this make the file too big to mail (33 MB at a million); about 30 bytes each
MOST_ROADS: Final = 200_000
MAIN_HALF_WIDTH_M: Final = 4.5


def is_main(segments: gpd.GeoDataFrame) -> Bools:
    """Return which roads are at least 9 m wide; none in a layer without widths."""
    if "half_width_m" not in segments:
        return np.zeros(len(segments), dtype=bool)
    half_width_m: Floats = segments["half_width_m"].to_numpy(dtype=np.float64, na_value=0.0)
    return half_width_m >= MAIN_HALF_WIDTH_M


def choose_roads(segments: gpd.GeoDataFrame, cores: pd.DataFrame, most: int = MOST_ROADS) -> Ints:
    """Return the positions of the segments that are drawn, in the order of the layer: all, if no more than ``most``.

    Otherwise, until ``most`` are chosen: those with an open or flagged core, those that such a core may lie on
    instead, the main roads, those with any other core; within each group in the order of the layer.
    """
    if len(segments) <= most:
        return np.arange(len(segments))
    awaited = cores[cores["status"] != "reinstated"]
    ids = segments["segment_id"]
    others = awaited["runner_up_id"].dropna() if "runner_up_id" in awaited else no_text(awaited.index)
    rank = np.select(
        [
            ids.isin(awaited["segment_id"].dropna()),
            ids.isin(others),
            is_main(segments),
            ids.isin(cores["segment_id"].dropna()),
        ],
        [0, 1, 2, 3],
        4,
    )
    best = np.argsort(rank, kind="stable")[:most]
    return np.sort(best[rank[best] < 4])


def pack_roads(segments: gpd.GeoDataFrame) -> tuple[str, Floats]:
    """Return the road segments for drawing, and their vertices in degrees (n x 2) for the first view."""
    geometry = np.asarray(segments.geometry.array, dtype=object)
    parts, owner = shapely.get_parts(shapely.simplify(geometry, ROAD_TOLERANCE), return_index=True)
    is_line = (shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(parts)
    is_line &= np.isfinite(shapely.bounds(parts)).all(axis=1)
    parts, owner = parts[is_line], owner[is_line]
    vertices = shapely.get_coordinates(parts)
    x, y = mercator(vertices[:, 0], vertices[:, 1])
    lines = segments.iloc[owner]
    columns = {
        "vertices": pack_ints(shapely.get_num_coordinates(parts).astype(np.int64)),
        "x": pack_ints(x),
        "y": pack_ints(y),
        "main": pack_ints(is_main(lines).astype(np.int64)),
        "street": pack_texts(lines["street"]),
        "surface": pack_texts(lines["surface"]),
        **pack_ids("id", lines["segment_id"])[0],
        **pack_along(
            place_along_streets(vertices, shapely.get_num_coordinates(parts).astype(np.int64), lines["street"])
        ),
    }
    return bundle(columns), vertices
