"""The road segments as the map draws them, and which ones it keeps when there are too many."""

from typing import Final

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.contracts import no_text
from pipeline.publish.among import is_among
from pipeline.publish.map.packing import Ints, bundle, pack_ids, pack_ints, pack_texts
from pipeline.publish.map.road_lines import RoadLines
from pipeline.publish.map.squeezing import Squeeze, squeezed
from pipeline.publish.map.street_counts import count_streets
from pipeline.publish.map.streets import pack_along

__all__ = ["MOST_ROADS", "choose_roads", "pack_roads", "roads_drawn"]

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

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
    others = awaited["runner_up_id"] if "runner_up_id" in awaited else no_text(awaited.index)
    rank = np.select(
        [
            is_among(ids, awaited["segment_id"]),
            is_among(ids, others),
            is_main(segments),
            is_among(ids, cores["segment_id"]),
        ],
        [0, 1, 2, 3],
        4,
    )
    best = np.argsort(rank, kind="stable")[:most]
    return np.sort(best[rank[best] < 4])


def roads_drawn(segments: gpd.GeoDataFrame, cores: pd.DataFrame) -> gpd.GeoDataFrame:
    """Return the segments that are drawn."""
    chosen = choose_roads(segments, cores)
    return segments if len(chosen) == len(segments) else segments.iloc[chosen]


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


def pack_roads(segments: gpd.GeoDataFrame, cores: pd.DataFrame, lines: RoadLines, squeeze: Squeeze = squeezed) -> str:
    """Return the road segments for drawing.

    Parameters
    ----------
    segments, cores
        As the map has them; of the segments those that are drawn.
    lines
        Of these segments, as ``lines_of`` gives them.
    squeeze
        As for ``bundle``.
    """
    drawn = segments.iloc[lines.owner]
    counted = count_streets(segments, cores)
    columns = {
        **lines.columns,
        "rank": pack_ints(class_ranks(segments)[lines.owner]),
        "level": pack_ints(counted.level[lines.owner]),
        "step": pack_ints(counted.step[lines.owner]),
        "street": pack_texts(drawn["street"]),
        "surface": pack_texts(drawn["surface"]),
        **pack_ids("id", drawn["segment_id"])[0],
        **pack_along(lines.along),
    }
    return bundle(columns, squeeze, limits=counted.limits)
