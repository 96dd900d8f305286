"""The road segment of every core: chainage, offset and side on it, and what the road layer says about it."""

from typing import NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.clock import Told, counted, silent
from pipeline.locate.candidates import BestTwo, likeliest_two, nearest_line, nearest_two, pairs_within_reach
from pipeline.locate.chainage import chainage_and_side
from pipeline.locate.core_order import along_a_curve
from pipeline.locate.learnt_errors import LEARNT_BY, LearntErrors, first_outcomes, learn_errors
from pipeline.locate.lines import Lines, lines_of
from pipeline.locate.posterior import Evidence, pair_likelihood, pieces_of
from pipeline.locate.reach import reach_by_learning_m
from pipeline.locate.reasons import nearest_candidates, weighed_candidates

__all__ = ["Found", "find_segments", "road_of_segment"]

# how far to look is learnt from at most so many cores
_MOST_AT_FIRST = 4_000
_READ = ("x_m", "y_m", "sigma_m", "rounding_m", "reach_m", "street_form", "register", "may_learn", *LEARNT_BY)


class Found(NamedTuple):
    """Segments of N cores.

    ``frame``: on the index of the cores, the columns that :func:`find_segments` names. ``shares``: one row per core
    and segment within reach: ``core`` (position among the cores), ``segment`` (row of the segments), ``share``
    (how likely the core is on it, 0 to 1); empty where the nearest segment is taken and nothing is weighed.
    ``candidates``: the same with the likelihoods that they follow from; see ``reasons``. ``learnt``: what was learnt of
    the errors of the positions; None where nothing is weighed or learnt. ``reach_m``: N, how far was looked, in metres.
    """

    frame: pd.DataFrame
    shares: pd.DataFrame
    candidates: pd.DataFrame
    learnt: LearntErrors | None = None
    reach_m: npt.NDArray[np.float64] | float = np.nan


def find_segments(
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    reach_m: npt.NDArray[np.float64] | float,
    evidence: Evidence | None = None,
    lines: Lines | None = None,
    told: Told = silent,
) -> Found:
    """Find the road segment of every core: the likeliest within reach, or the nearest.

    Parameters
    ----------
    cores
        N rows with ``x_m`` and ``y_m`` in the run's CRS, in metres; missing where a core has no position. With
        ``evidence`` also ``sigma_m`` (standard deviation of the position along one axis) and ``street_form``.
    segments
        M unbroken lines in the same CRS: ``segment_id``, ``street``, ``start_m``. Of lines equally near or equally
        likely the first counts, so the answer depends on their order and never on the order of the cores. With
        ``evidence`` also ``half_width_m``, ``street_form`` and ``is_underground``.
    reach_m
        Distance within which a segment may be a core's own, in metres: one for all cores, or N.
    evidence
        How street names and levels weigh; None takes the nearest line, and no confidence is reported. Where it says
        that errors are learnt, cores also have ``may_learn``, ``rounding_m``, ``register`` and LEARNT_BY.
    lines
        Those of the segments, where they were made ready before.
    told
        Is told what is worked on, and how much of it is done.

    Returns
    -------
    Found
        ``frame``: ``segment`` (row of ``segments``, -1 where none lies within reach), ``segment_id``,
        ``street_matched``, ``chainage_m``, ``offset_m``, ``side``, ``segment_confidence``, ``name_match``,
        ``runner_up_id`` (the next segment within reach), ``runner_up_street``, ``runner_up_confidence``, and
        ``nearest_id`` and ``nearest_m`` where none lies within reach.
    """
    reach = np.broadcast_to(np.asarray(reach_m, dtype=np.float64), len(cores))
    placed = along_a_curve(cores)
    lines = lines_of(segments, are_weighed=evidence is not None) if lines is None else lines
    if evidence is None or not evidence.learn:
        return _find_within(cores, placed, segments, lines, reach, evidence, told)
    # an error that is larger than the reach allows for is seen in part: it is learnt again with a wider one
    told("how far to look")
    first = placed[np.linspace(0, len(placed) - 1, min(len(placed), _MOST_AT_FIRST)).round().astype(np.intp)]
    pairs = pairs_within_reach(_points(cores, first), lines.shapes, lines.tree, reach[first])
    there, pieces = cores.iloc[first], lines.pieces or pieces_of(lines.shapes)
    weights = pair_likelihood(pairs, there, segments, evidence, pieces)
    outcomes = first_outcomes(pairs, there, segments, weights, evidence, pieces)
    wider = reach_by_learning_m(outcomes, cores, evidence.max_reach_m)
    return _find_within(cores.assign(reach_m=wider), placed, segments, lines, wider, evidence, told)


def _points(cores: pd.DataFrame, placed: npt.NDArray[np.intp]) -> npt.NDArray[np.object_]:
    """Return the points of some of the cores, made anew in their order: neighbours lie side by side in memory too."""
    points: npt.NDArray[np.object_] = shapely.points(cores["x_m"].to_numpy()[placed], cores["y_m"].to_numpy()[placed])
    return points


def _find_within(
    cores: pd.DataFrame,
    placed: npt.NDArray[np.intp],
    segments: gpd.GeoDataFrame,
    lines: Lines,
    reach_m: npt.NDArray[np.float64],
    evidence: Evidence | None,
    told: Told,
) -> Found:
    """Find the road segment of those of the cores that are ``placed``, each within its reach."""
    points = _points(cores, placed)
    done = counted(told, "segments", len(placed))
    pairs = pairs_within_reach(points, lines.shapes, lines.tree, reach_m[placed], done)
    confidence, match = np.full(len(pairs.line), np.nan), np.full(len(pairs.line), np.nan)
    shares = pd.DataFrame({"core": [], "segment": [], "share": []}).astype({"core": int, "segment": int})
    learnt = None
    if evidence is None:
        best = nearest_two(pairs, lines.segment, len(points))
        candidates = nearest_candidates(pairs, best)
    else:
        there, pieces = _weighed_by(cores).iloc[placed], lines.pieces or pieces_of(lines.shapes)
        count = len(pairs.line), "candidates"
        weights = pair_likelihood(pairs, there, segments, evidence, pieces, counted(told, "segments", *count))
        if evidence.learn:
            done = counted(told, "errors of positions", *count)
            weights, learnt = learn_errors(pairs, there, segments, weights, evidence, pieces, done)
            told("likeliest segments")
        match = weights.match
        best, weighed = likeliest_two(pairs, lines.segment, weights.likelihood, len(points))
        candidates = weighed_candidates(pairs, lines.segment, weights, weighed, segments)
        confidence[weighed["pair"].to_numpy()] = weighed["share"].clip(0, 1).to_numpy()
        shares = weighed.assign(core=placed[weighed["core"]])[["core", "segment", "share"]]
    facts = pd.DataFrame(
        {"line": pairs.line, "distance": pairs.distance, "confidence": confidence, "name_match": match}
    )
    frame = _one_row_per_core(best, facts, placed, points, segments, lines, len(cores))
    candidates = candidates.assign(core=placed[candidates["core"]])
    candidates = candidates.sort_values("core", kind="stable", ignore_index=True)
    if learnt is not None:
        learnt = learnt.in_order(placed, len(cores))
    return Found(frame.set_axis(cores.index), shares, candidates, learnt, reach_m)


def _weighed_by(cores: pd.DataFrame) -> pd.DataFrame:
    """Return the columns that weighing and learning read: in another order, all of a register would be copied."""
    return cores[[name for name in _READ if name in cores]]


def _one_row_per_core(
    best: BestTwo,
    facts: pd.DataFrame,
    placed: npt.NDArray[np.intp],
    points: npt.NDArray[np.object_],
    segments: gpd.GeoDataFrame,
    lines: Lines,
    count: int,
) -> pd.DataFrame:
    """Join three tables on ``count`` cores: the segment of each, its runner-up, or else the nearest out of reach.

    ``facts`` has one row per pair: ``line``, ``distance``, ``confidence``, ``name_match``. ``placed`` are the cores
    that have a position; the rows of the others are missing.
    """
    has_segment, has_second = (np.flatnonzero(pair >= 0) for pair in best)
    own = facts.iloc[best.first[has_segment]].set_axis(placed[has_segment])
    line = own["line"].to_numpy()
    along, side = chainage_and_side(points[has_segment], lines.shapes[line], own["distance"])
    own = own.assign(chainage_m=along + segments["start_m"].to_numpy()[line], side=side)
    second = facts.iloc[best.second[has_second]].set_axis(placed[has_second])
    lost = np.flatnonzero(best.first < 0)
    far_line, far_m = nearest_line(points[lost], lines.tree) if len(lost) else (lost, np.empty(0))
    far = pd.DataFrame({"line": far_line, "distance": far_m}, index=placed[lost])
    own, second, far = (table.reindex(range(count)) for table in (own, second, far))
    # no row of the layer is numbered -1, so a core without a segment gets no name
    segment, runner_up, nearest = (table["line"].fillna(-1).astype(int) for table in (own, second, far))
    ids, streets = (segments[name].reset_index(drop=True) for name in ("segment_id", "street"))
    return pd.DataFrame(
        {
            "segment": segment.to_numpy(),
            "segment_id": ids.reindex(segment).array,
            "street_matched": streets.reindex(segment).array,
            "chainage_m": own["chainage_m"].array,
            "offset_m": own["distance"].array,
            "side": own["side"].array,
            "segment_confidence": own["confidence"].array,
            "name_match": own["name_match"].array,
            "runner_up_id": ids.reindex(runner_up).array,
            "runner_up_street": streets.reindex(runner_up).array,
            "runner_up_confidence": second["confidence"].array,
            "nearest_id": ids.reindex(nearest).array,
            "nearest_m": far["distance"].array,
        }
    )


def road_of_segment(segment: pd.Series, segments: gpd.GeoDataFrame, number: npt.NDArray[np.intp]) -> pd.DataFrame:
    """Return what the road layer gives for the segment of each of N cores; all missing for a core without one.

    Parameters
    ----------
    segment
        N rows of ``segments``, -1 for none.
    segments
        M lines with ``segment_id``, ``class_name``, ``road_authority``, ``slope_percent``, ``half_width_m`` (metres).
    number
        M numbers of the segments that the lines belong to.

    Returns
    -------
    pandas.DataFrame
        On the index of ``segment``: ``road_class``, ``road_authority``, ``slope_percent``, ``segment_length_m`` and
        ``segment_area_m2`` (kerb to kerb), the last two over all lines of the segment.
    """
    length = segments.length
    by_id = pd.DataFrame({"m": length, "m2": length * 2 * segments["half_width_m"]}).groupby(number)
    facts = pd.DataFrame(
        {
            "road_class": segments["class_name"],
            "road_authority": segments["road_authority"],
            "slope_percent": segments["slope_percent"].astype(float),
            "segment_length_m": by_id["m"].transform("sum"),
            "segment_area_m2": by_id["m2"].transform("sum"),
        }
    )
    # no row of the layer is numbered -1, so a core without a segment gets missing values
    return facts.reindex(segment).set_axis(segment.index)
