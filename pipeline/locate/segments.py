"""The road segment of every core, and where along it the core lies."""

from typing import Any, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.contracts import no_text
from pipeline.locate.posterior import Evidence, name_likelihood, pieces_of, road_mass
from pipeline.locate.street_names import name_match

__all__ = ["Found", "find_segments"]

# two segments are equally near when a rounding error could tell them apart
_EQUAL_M = 1e-6
# the direction of a line at a place is taken from a step this long to either side
_STEP_M = 1e-3
# nearer than this to the line, a core has no side
_ON_LINE_M = 5e-4


class Found(NamedTuple):
    """Segments of N cores.

    ``frame``: on the cores' index, the columns that :func:`find_segments` names. ``shares``: a row for each core
    and segment within reach: ``core`` (place among the cores), ``segment`` (row of the segments), ``share``
    (how likely the core is on it); empty where the nearest segment is taken without asking how likely it is.
    """

    frame: pd.DataFrame
    shares: pd.DataFrame


class _Pairs(NamedTuple):
    """P pairs of a placed core and a line within reach of it."""

    core: npt.NDArray[np.intp]
    line: npt.NDArray[np.intp]
    distance: npt.NDArray[np.float64]


def find_segments(
    cores: pd.DataFrame, segments: gpd.GeoDataFrame, max_distance_m: float, evidence: Evidence | None = None
) -> Found:
    """Give every core its road segment: the likeliest within reach, or the nearest.

    Parameters
    ----------
    cores
        N rows with ``x_m`` and ``y_m`` in the run's CRS, in metres; missing where a core has no position. With
        ``evidence`` also ``sigma_m`` (standard deviation of the position along one axis) and ``street_form``.
    segments
        M unbroken lines in the same CRS: ``segment_id``, ``street``, ``start_m``. Of lines equally near or likely
        the first serves, so that the answer depends on their order and never on that of the cores. With
        ``evidence`` also ``half_width_m``, ``street_form`` and ``is_underground``.
    max_distance_m
        Reach, in metres.
    evidence
        How names and levels weigh; None takes the nearest line and says nothing of how sure it is.

    Returns
    -------
    Found
        ``frame``: ``segment`` (row of ``segments``, -1 where none lies within reach), ``segment_id``,
        ``street_matched``, ``chainage_m``, ``offset_m``, ``side``, ``segment_confidence``, ``runner_up_id`` (the
        next segment within reach), ``runner_up_street``, ``runner_up_confidence``, ``name_match``, and
        ``nearest_id`` and ``nearest_m`` where none lies within reach.
    """
    x, y = cores["x_m"].to_numpy(), cores["y_m"].to_numpy()
    placed = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    # neighbours in the tree are asked for one after the other: three times faster than in register order
    placed = placed[_along_a_curve(x[placed], y[placed])]
    points = shapely.points(x[placed], y[placed])
    lines = np.asarray(segments.geometry.array)
    ids = segments["segment_id"].to_numpy()
    tree = shapely.STRtree(lines)
    pairs = _within_reach(points, lines, tree, max_distance_m)
    # the lines of one segment are one candidate
    _, of_segment = np.unique(ids.astype(str), return_inverse=True)

    out = _nothing_found(cores.index)
    shares = pd.DataFrame({"core": [], "segment": [], "share": []}).astype({"core": int, "segment": int})
    if evidence is None:
        best, second = _nearest_two(pairs, of_segment, len(points))
    else:
        weight, match = _weigh(pairs, cores.iloc[placed], segments, evidence)
        best, second, chance, shares = _likeliest_two(pairs, of_segment, weight, len(points))
        found = best >= 0
        _put(out, placed[found], "segment_confidence", chance[found, 0])
        _put(out, placed[second >= 0], "runner_up_confidence", chance[second >= 0, 1])
        _put(out, placed[found], "name_match", match[best[found]])
        shares["core"] = placed[shares["core"].to_numpy()]
    found, rows = best >= 0, placed[best >= 0]
    segment, offset = pairs.line[best[found]], pairs.distance[best[found]]
    streets = segments["street"].to_numpy()
    along, side = _along_and_side(points[found], lines[segment], offset)
    _put(out, rows, "segment", segment)
    _put(out, rows, "segment_id", ids[segment])
    _put(out, rows, "street_matched", streets[segment])
    _put(out, rows, "chainage_m", along + segments["start_m"].to_numpy()[segment])
    _put(out, rows, "offset_m", offset)
    _put(out, rows, "side", side)
    next_one = pairs.line[second[second >= 0]]
    _put(out, placed[second >= 0], "runner_up_id", ids[next_one])
    _put(out, placed[second >= 0], "runner_up_street", streets[next_one])

    if not found.all():
        far_line, far_distance = _nearest_at_any_distance(points[~found], tree)
        _put(out, placed[~found], "nearest_id", ids[far_line])
        _put(out, placed[~found], "nearest_m", far_distance)
    return Found(out, shares)


def _nearest_two(
    pairs: _Pairs, of_segment: npt.NDArray[np.intp], count: int
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """For each of ``count`` cores the pair with its nearest segment, and with the next; -1 without."""
    best = _first_of_nearest(pairs, count)
    chosen = np.where(best >= 0, of_segment[pairs.line[best]] if len(pairs.line) else -1, -1)
    others = np.flatnonzero(of_segment[pairs.line] != chosen[pairs.core])
    rest = _Pairs(pairs.core[others], pairs.line[others], pairs.distance[others])
    second = _first_of_nearest(rest, count)
    return best, np.where(second >= 0, others[second] if len(others) else -1, -1)


def _weigh(
    pairs: _Pairs, cores: pd.DataFrame, segments: gpd.GeoDataFrame, evidence: Evidence
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Likelihood of each pair, up to a factor common to a core; and how far the street names agree."""
    core, line = pairs.core, pairs.line
    sigma = cores["sigma_m"].to_numpy()[core]
    half = segments["half_width_m"].to_numpy()[line]
    x, y = cores["x_m"].to_numpy()[core], cores["y_m"].to_numpy()[core]
    weight = road_mass(x, y, sigma, line, half, pieces_of(np.asarray(segments.geometry.array)))
    # a core further from every road than its error can explain: what is least far is likeliest by far
    lost = np.bincount(core, weight, minlength=len(cores))[core] < 1e-250
    if lost.any():
        beyond = (np.maximum(pairs.distance - half, 0) / sigma) ** 2 / 2
        least = np.full(len(cores), np.inf)
        np.minimum.at(least, core, beyond)
        weight = np.where(lost, np.exp(least[core] - beyond), weight)
    written = cores["street_form"].to_numpy()[core]
    theirs = segments["street_form"].to_numpy()[line]
    match = name_match(written, theirs)
    told = np.where(pd.isna(theirs), _match_beside(pairs, match, sigma, len(cores)), match)
    weight = weight * name_likelihood(told, evidence)
    below = segments["is_underground"].to_numpy()[line]
    return weight * np.where(below, evidence.underground, 1.0), match


def _match_beside(
    pairs: _Pairs, match: npt.NDArray[np.float64], sigma: npt.NDArray[np.float64], count: int
) -> npt.NDArray[np.float64]:
    """How far a segment without a name agrees: it goes by the street beside it, as people say where a footway is.

    Which street that is, the position does not quite tell: the nearer a named line, the likelier.
    """
    core = pairs.core
    known = ~np.isnan(match)
    least = np.full(count, np.inf)
    np.minimum.at(least, core[known], pairs.distance[known])
    with np.errstate(invalid="ignore"):
        beside = np.where(known, np.exp((least[core] ** 2 - pairs.distance**2) / (2 * sigma**2)), 0.0)
    total = np.bincount(core, beside, minlength=count)
    agreed = np.bincount(core, beside * np.nan_to_num(match), minlength=count)
    mean: npt.NDArray[np.float64] = np.divide(agreed, total, out=np.full(count, np.nan), where=total > 0)[core]
    return mean


def _likeliest_two(
    pairs: _Pairs, of_segment: npt.NDArray[np.intp], weight: npt.NDArray[np.float64], count: int
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp], npt.NDArray[np.float64], pd.DataFrame]:
    """As :func:`_nearest_two`, by likelihood; with the chance of the two, and the share of every segment."""
    total = np.bincount(pairs.core, weight, minlength=count)
    share = weight / total[pairs.core]
    table = pd.DataFrame(
        {"core": pairs.core, "code": of_segment[pairs.line], "line": pairs.line, "share": share}
    ).assign(pair=np.arange(len(share)), distance=pairs.distance)
    # of the lines of one segment the nearest stands for it
    table = table.sort_values(["core", "code", "distance", "line"])
    whole = table.groupby(["core", "code"], sort=True)
    segments = whole[["line", "pair"]].first().assign(share=whole["share"].sum()).reset_index()
    # shares that only a rounding error could tell apart are equal, and the first line serves
    order = segments.assign(rounded=segments["share"].round(9)).sort_values(
        ["core", "rounded", "line"], ascending=[True, False, True]
    )
    rank = order.groupby("core").cumcount().to_numpy()
    two = np.full((count, 2), -1)
    chance = np.full((count, 2), np.nan)
    for place in (0, 1):
        one = order[rank == place]
        two[one["core"], place] = one["pair"]
        chance[one["core"], place] = one["share"]
    shares = segments.rename(columns={"line": "segment"})[["core", "segment", "share"]]
    return two[:, 0], two[:, 1], np.clip(chance, 0, 1), shares


def _nothing_found(index: pd.Index) -> pd.DataFrame:
    texts = ("segment_id", "street_matched", "side", "runner_up_id", "runner_up_street", "nearest_id")
    numbers = ("chainage_m", "offset_m", "segment_confidence", "runner_up_confidence", "name_match", "nearest_m")
    nothing, unknown = no_text(index), pd.Series(np.nan, index)
    return pd.DataFrame(
        {"segment": pd.Series(-1, index), **dict.fromkeys(texts, nothing), **dict.fromkeys(numbers, unknown)}
    )


def _put(out: pd.DataFrame, rows: npt.NDArray[np.intp], name: str, values: npt.NDArray[Any]) -> None:
    kind: Any = out[name].dtype
    column = out[name].to_numpy(dtype=object if kind == "str" else kind, copy=True)
    column[rows] = values
    out[name] = pd.Series(column, out.index, dtype=kind)


def _along_a_curve(x: npt.NDArray[np.float64], y: npt.NDArray[np.float64]) -> npt.NDArray[np.intp]:
    if len(x) == 0:
        return np.zeros(0, dtype=np.intp)
    return np.argsort(gpd.GeoSeries(shapely.points(x, y)).hilbert_distance().to_numpy(), kind="stable")


def _within_reach(
    points: npt.NDArray[np.object_], lines: npt.NDArray[np.object_], tree: shapely.STRtree, reach_m: float
) -> _Pairs:
    """Every pair of a point and a line within reach: boxes first, then the exact distance."""
    x, y = shapely.get_x(points), shapely.get_y(points)
    core, line = tree.query(shapely.box(x - reach_m, y - reach_m, x + reach_m, y + reach_m))
    distance = shapely.distance(points[core], lines[line])
    near = distance <= reach_m
    return _Pairs(core[near], line[near], distance[near])


def _first_of_nearest(pairs: _Pairs, count: int) -> npt.NDArray[np.intp]:
    """For each of ``count`` cores the place of its nearest pair, the lowest line of equals; -1 without any."""
    core, line, distance = pairs
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
    best = _first_of_nearest(_Pairs(core, line, distance), len(points))
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
