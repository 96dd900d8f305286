"""The road segments as the map draws them, and which ones it keeps when there are too many."""

from typing import Final

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.contracts import no_text
from pipeline.publish.map.cores import mercator, morton_keys
from pipeline.publish.map.packing import Ints, bundle, pack_ids, pack_ints, pack_texts
from pipeline.publish.map.street_counts import count_streets
from pipeline.publish.map.streets import pack_along, place_along_streets

__all__ = ["MOST_ROADS", "choose_roads", "pack_roads"]

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# degrees of latitude, half a metre: less than the width of any line on the page
ROAD_TOLERANCE: Final = 5e-6
# more lines than this make the file too big to mail (33 MB at a million); about 30 bytes each
MOST_ROADS: Final = 200_000
MAIN_HALF_WIDTH_M: Final = 4.5
# half widths at which a class of road is drawn and named before the next: a main road, a secondary, a local one
CLASS_HALF_WIDTHS_M: Final = (5.5, 4.25, 2.75)
_LOCAL: Final = 2


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


def class_ranks(segments: gpd.GeoDataFrame) -> Ints:
    """Return how important each road is: 0 main, 1 secondary, 2 local, 3 narrower; local in a layer without widths.

    The class counts, by the usual width of its roads, so that one measured wide or narrow looks like the others.
    """
    if "half_width_m" not in segments:
        return np.full(len(segments), _LOCAL, dtype=np.int64)
    width = segments["half_width_m"].astype("float64")
    if "class_name" in segments:
        width = width.groupby(segments["class_name"]).transform("median").fillna(width)
    known: Floats = width.to_numpy(dtype=np.float64, na_value=np.nan)
    ranks: Ints = np.sum([known < limit for limit in CLASS_HALF_WIDTHS_M], axis=0).astype(np.int64)
    return np.where(np.isnan(known), _LOCAL, ranks)


def pack_roads(segments: gpd.GeoDataFrame, cores: pd.DataFrame) -> tuple[str, Floats]:
    """Return the road segments for drawing, and their vertices in degrees (n x 2) for the first view.

    Lines are in Morton order of their middles, so that lines near each other are near in the list as well.
    """
    geometry = np.asarray(segments.geometry.array, dtype=object)
    parts, owner = shapely.get_parts(shapely.simplify(geometry, ROAD_TOLERANCE), return_index=True)
    is_line = (shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(parts)
    limits = shapely.bounds(parts)
    is_line &= np.isfinite(limits).all(axis=1)
    middles = mercator(*((limits[is_line, side] + limits[is_line, side + 2]) / 2 for side in (0, 1)))
    by_place = np.flatnonzero(is_line)[np.argsort(morton_keys(*middles), kind="stable")]
    parts, owner = parts[by_place], owner[by_place]
    vertices = shapely.get_coordinates(parts)
    x, y = mercator(vertices[:, 0], vertices[:, 1])
    lines = segments.iloc[owner]
    counted = count_streets(segments, cores)
    columns = {
        "vertices": pack_ints(shapely.get_num_coordinates(parts).astype(np.int64)),
        "x": pack_ints(x),
        "y": pack_ints(y),
        "rank": pack_ints(class_ranks(segments)[owner]),
        "level": pack_ints(counted.level[owner]),
        "step": pack_ints(counted.step[owner]),
        "street": pack_texts(lines["street"]),
        "surface": pack_texts(lines["surface"]),
        **pack_ids("id", lines["segment_id"])[0],
        **pack_along(
            place_along_streets(vertices, shapely.get_num_coordinates(parts).astype(np.int64), lines["street"])
        ),
    }
    return bundle(columns, limits=counted.limits), vertices
