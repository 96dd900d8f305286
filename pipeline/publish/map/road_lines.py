"""The lines of the road segments as maps draw them: made once for all maps that draw the same segments."""

import operator
from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.publish.map.cores import mercator, morton_keys
from pipeline.publish.map.packing import Ints, Packed, pack_ints
from pipeline.publish.map.streets import AlongStreets, place_along_streets

__all__ = ["RoadLines", "lines_of"]

Floats = npt.NDArray[np.float64]

# degrees of latitude, half a metre: less than the width of any line on the page
_TOLERANCE: Final = 5e-6


class RoadLines(NamedTuple):
    """The lines of M segments, in Morton order of their middles: lines near each other are near in the list as well.

    ``segment_id``, ``geometry``: of the M segments, as they were given. ``owner``: by line, the position of its
    segment. ``keys``: the Morton keys. ``vertices``: of all lines, in degrees; ``counts``: how many each line has.
    ``columns``: the lines packed. ``street``: code of the street of each line. ``along``: where it lies along it.
    """

    segment_id: pd.Index
    geometry: npt.NDArray[np.object_]
    owner: Ints
    keys: npt.NDArray[np.uint64]
    vertices: Floats
    counts: Ints
    columns: dict[str, Packed]
    street: Ints
    along: AlongStreets


def lines_of(segments: gpd.GeoDataFrame, known: RoadLines | None = None) -> RoadLines:
    """Return the lines of segments with ``segment_id`` and ``street``, in any CRS that they state, in EPSG:4326.

    ``known``: lines that were made of the same segments, in any order, for another map; what is the same is taken from
    them.
    """
    geometry = np.asarray(segments.geometry.array, dtype=object)
    if known is not None and (owner := _same_lines(segments["segment_id"], geometry, known)) is not None:
        street, _ = pd.factorize(segments["street"].iloc[owner])
        along = known.along
        if not np.array_equal(street, known.street):
            along = place_along_streets(known.vertices, known.counts, segments["street"].iloc[owner])
        return known._replace(owner=owner, street=street, along=along)
    degrees = segments.geometry if segments.crs is None else segments.geometry.to_crs("EPSG:4326")
    thin = shapely.simplify(np.asarray(degrees.array, dtype=object), _TOLERANCE)
    parts, owner = shapely.get_parts(thin, return_index=True)
    is_line = (shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(parts)
    limits = shapely.bounds(parts)
    is_line &= np.isfinite(limits).all(axis=1)
    keys = morton_keys(*mercator(*((limits[is_line, side] + limits[is_line, side + 2]) / 2 for side in (0, 1))))
    order = np.argsort(keys, kind="stable")
    by_place = np.flatnonzero(is_line)[order]
    parts, owner = parts[by_place], owner[by_place]
    vertices, counts = shapely.get_coordinates(parts), shapely.get_num_coordinates(parts).astype(np.int64)
    x, y = mercator(vertices[:, 0], vertices[:, 1])
    street = segments["street"].iloc[owner]
    return RoadLines(
        pd.Index(segments["segment_id"]),
        geometry,
        owner,
        keys[order],
        vertices,
        counts,
        {"vertices": pack_ints(counts), "x": pack_ints(x), "y": pack_ints(y)},
        pd.factorize(street)[0],
        place_along_streets(vertices, counts, street),
    )


def _same_lines(segment_id: pd.Series, geometry: npt.NDArray[np.object_], known: RoadLines) -> Ints | None:
    """Return the position of the segment of each known line; None where the lines or their order differ."""
    if len(segment_id) != len(known.segment_id) or not segment_id.is_unique or not known.segment_id.is_unique:
        return None
    # where the known segments are now
    at = pd.Index(segment_id).get_indexer(known.segment_id)
    if (at < 0).any() or not all(map(operator.is_, geometry[at], known.geometry)):
        return None
    owner = at[known.owner]
    # of lines with one middle the first in the layer comes first
    is_tie = known.keys[1:] == known.keys[:-1]
    return None if (is_tie & (np.diff(owner) < 0)).any() else owner
