"""The road segment of every core, and where along it the core lies."""

from typing import Any

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.contracts import no_text

__all__ = ["find_segments"]

# two segments are equally near when a rounding error could tell them apart
_EQUAL_M = 1e-6
# the direction of a line at a place is taken from a step this long to either side
_STEP_M = 1e-3
# nearer than this to the line, a core has no side
_ON_LINE_M = 5e-4


def find_segments(cores: pd.DataFrame, segments: gpd.GeoDataFrame, max_distance_m: float) -> pd.DataFrame:
    """Give every core its road segment: the nearest within reach.

    Parameters
    ----------
    cores
        N rows with ``x_m`` and ``y_m`` in the run's CRS, in metres; missing where a core has no position.
    segments
        M unbroken lines in the same CRS: ``segment_id``, ``street``, ``start_m``. Of lines equally near, the
        first serves, so that the answer depends on their order and never on that of the cores.
    max_distance_m
        Reach, in metres.

    Returns
    -------
    pandas.DataFrame
        On ``cores.index``: ``segment`` (row of ``segments``, -1 where none lies within reach), ``segment_id``,
        ``street_matched``, ``chainage_m``, ``offset_m``, ``side``, ``runner_up_id`` (another segment within
        reach), ``nearest_id`` and ``nearest_m`` where none lies within reach.
    """
    x, y = cores["x_m"].to_numpy(), cores["y_m"].to_numpy()
    placed = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    # neighbours in the tree are asked for one after the other: three times faster than in register order
    placed = placed[_along_a_curve(x[placed], y[placed])]
    points = shapely.points(x[placed], y[placed])
    lines = np.asarray(segments.geometry.array)
    ids = segments["segment_id"].to_numpy()
    tree = shapely.STRtree(lines)

    core, line, distance = _within_reach(points, lines, tree, max_distance_m)
    best = _first_of_nearest(core, line, distance, len(points))
    _, same_id = np.unique(ids.astype(str), return_inverse=True)
    chosen = np.full(len(points), -1)
    found = best >= 0
    chosen[found] = line[best[found]]
    others = same_id[line] != same_id[chosen[core]]
    second = _first_of_nearest(core[others], line[others], distance[others], len(points))

    out = _nothing_found(cores.index)
    rows = placed[found]
    segment = chosen[found]
    out.loc[out.index[rows], "segment"] = segment
    offset = distance[best[found]]
    along, side = _along_and_side(points[found], lines[segment], offset)
    _put(out, rows, "segment_id", ids[segment])
    _put(out, rows, "street_matched", segments["street"].to_numpy()[segment])
    _put(out, rows, "chainage_m", along + segments["start_m"].to_numpy()[segment])
    _put(out, rows, "offset_m", offset)
    _put(out, rows, "side", side)
    has_second = second >= 0
    _put(out, placed[has_second], "runner_up_id", ids[line[others][second[has_second]]])

    lost = ~found
    if lost.any():
        far_line, far_distance = _nearest_at_any_distance(points[lost], tree)
        _put(out, placed[lost], "nearest_id", ids[far_line])
        _put(out, placed[lost], "nearest_m", far_distance)
    return out


def _nothing_found(index: pd.Index) -> pd.DataFrame:
    text = no_text(index)
    return pd.DataFrame(
        {
            "segment": pd.Series(-1, index),
            **dict.fromkeys(("segment_id", "street_matched", "side", "runner_up_id", "nearest_id"), text),
            **{name: pd.Series(np.nan, index) for name in ("chainage_m", "offset_m", "nearest_m")},
        }
    )


def _put(out: pd.DataFrame, rows: npt.NDArray[np.intp], name: str, values: npt.NDArray[Any]) -> None:
    column = out[name].to_numpy(dtype=object if out[name].dtype == "str" else float, copy=True)
    column[rows] = values
    out[name] = pd.Series(column, out.index, dtype=out[name].dtype)


def _along_a_curve(x: npt.NDArray[np.float64], y: npt.NDArray[np.float64]) -> npt.NDArray[np.intp]:
    if len(x) == 0:
        return np.zeros(0, dtype=np.intp)
    return np.argsort(gpd.GeoSeries(shapely.points(x, y)).hilbert_distance().to_numpy(), kind="stable")


def _within_reach(
    points: npt.NDArray[np.object_], lines: npt.NDArray[np.object_], tree: shapely.STRtree, reach_m: float
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp], npt.NDArray[np.float64]]:
    """Every pair of a point and a line within reach: boxes first, then the exact distance."""
    x, y = shapely.get_x(points), shapely.get_y(points)
    core, line = tree.query(shapely.box(x - reach_m, y - reach_m, x + reach_m, y + reach_m))
    distance = shapely.distance(points[core], lines[line])
    near = distance <= reach_m
    return core[near], line[near], distance[near]


def _first_of_nearest(
    core: npt.NDArray[np.intp], line: npt.NDArray[np.intp], distance: npt.NDArray[np.float64], count: int
) -> npt.NDArray[np.intp]:
    """For each of ``count`` cores the place of its nearest pair, the lowest line of equals; -1 without any."""
    least = np.full(count, np.inf)
    np.minimum.at(least, core, distance)
    equal = np.flatnonzero(distance <= least[core] + _EQUAL_M)
    order = equal[np.lexsort((line[equal], core[equal]))]
    cores, first = np.unique(core[order], return_index=True)
    best = np.full(count, -1)
    best[cores] = order[first]
    return best


def _nearest_at_any_distance(
    points: npt.NDArray[np.object_], tree: shapely.STRtree
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.float64]]:
    (core, line), distance = tree.query_nearest(points, return_distance=True, all_matches=True)
    best = _first_of_nearest(core, line, distance, len(points))
    return line[best], distance[best]


def _along_and_side(
    points: npt.NDArray[np.object_], lines: npt.NDArray[np.object_], offset: npt.NDArray[np.float64]
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.object_]]:
    """Chainage on a line, and the side of its direction.

    At a vertex the direction is the mean of the two legs', so that a core in the outer angle is on the outer
    side. Beyond an end the end's own leg counts on.
    """
    along = shapely.line_locate_point(lines, points)
    before = shapely.line_interpolate_point(lines, np.maximum(along - _STEP_M, 0))
    after = shapely.line_interpolate_point(lines, np.minimum(along + _STEP_M, shapely.length(lines)))
    across = (shapely.get_x(after) - shapely.get_x(before)) * (shapely.get_y(points) - shapely.get_y(before)) - (
        shapely.get_y(after) - shapely.get_y(before)
    ) * (shapely.get_x(points) - shapely.get_x(before))
    step = shapely.distance(before, after)
    sideways = across / np.where(step > 0, step, 1)
    side = np.where(sideways > 0, "left", "right").astype(object)
    # on the line, or straight beyond its end
    side[(np.abs(sideways) < _ON_LINE_M) | (offset < _ON_LINE_M)] = np.nan
    return along, side
