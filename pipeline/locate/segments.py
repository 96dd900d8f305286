"""The road segment of every core: chainage, offset and side on it, and what the road layer says about it."""

from collections.abc import Iterator
from typing import NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from geopandas.array import from_shapely

from pipeline.clock import Told, silent
from pipeline.engines import HERE, Count, Engine
from pipeline.locate.candidates import EQUAL_M, Pairs, pairs_within_reach
from pipeline.locate.core_order import along_a_curve
from pipeline.locate.joined import Cell, errors_of, joined, one_row_per_core
from pipeline.locate.learnt_errors import LEARNT_BY, Learning, LearntErrors, learn_errors
from pipeline.locate.lines import Lines, lines_of
from pipeline.locate.near import rows_near, rows_of
from pipeline.locate.posterior import Evidence, pieces_of
from pipeline.locate.reach import reach_by_learning_m
from pipeline.locate.weighing import LINE_COLUMNS, Looked, Share, look, weigh

__all__ = ["Found", "find_segments", "road_of_segment"]

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

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
    engine: Engine = HERE,
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
    told, engine
        Is told what is worked on and how much of it is done; does the work on the cores of each cell.

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
    segments = segments.assign(number=lines.segment)
    if evidence is not None and evidence.learn:
        told("how far to look")
        reach = _after_a_first_look(cores, placed, segments, lines, reach, evidence)
        cores = cores.assign(reach_m=reach)
    there = _weighed_by(cores).iloc[placed]
    cells = engine.cells(there["x_m"].to_numpy(), there["y_m"].to_numpy())
    pairs = _pairs(there, cells, lines, reach[placed] + EQUAL_M, Count(told, "segments", len(placed)), engine)
    learning = None
    if evidence is not None and evidence.learn:
        told("errors of positions")
        pieces = lines.pieces or pieces_of(lines.shapes)
        learning = learn_errors(pairs, there, segments, evidence, pieces, is_first=False)
    count = Count(told, "likeliest segments", len(placed))
    made = _weighed(there, cells, pairs, segments, lines, evidence, learning, count, engine)
    made = [one._replace(cores=placed[one.cores]) for one in made]
    frame = one_row_per_core(made, placed, cores, segments, lines)
    learnt = None if learning is None else errors_of(made, len(cores), learning)
    return Found(frame.set_axis(cores.index), joined(made, "shares"), joined(made, "candidates"), learnt, reach)


def _after_a_first_look(
    cores: pd.DataFrame,
    placed: Places,
    segments: gpd.GeoDataFrame,
    lines: Lines,
    reach_m: Floats,
    evidence: Evidence,
) -> Floats:
    """Return how far to look for the segments of N cores, in metres, by what some of them tell of their errors.

    An error that is larger than the reach allows for is seen in part: it is learnt again with the wider one.
    """
    first = placed[np.linspace(0, len(placed) - 1, min(len(placed), _MOST_AT_FIRST)).round().astype(np.intp)]
    x, y = (cores[name].to_numpy()[first] for name in ("x_m", "y_m"))
    pairs = pairs_within_reach(shapely.points(x, y), lines.shapes, lines.tree, reach_m[first] + EQUAL_M)
    there, pieces = _weighed_by(cores).iloc[first], lines.pieces or pieces_of(lines.shapes)
    outcomes = learn_errors(pairs, there, segments, evidence, pieces, is_first=True).outcomes
    return reach_by_learning_m(outcomes, cores, evidence.max_reach_m)


def _weighed_by(cores: pd.DataFrame) -> pd.DataFrame:
    """Return the columns that weighing and learning read: in another order, all of a register would be copied."""
    return cores[[name for name in _READ if name in cores]]


def _pairs(
    cores: pd.DataFrame, cells: list[Places], lines: Lines, reach_m: Floats, count: Count, engine: Engine
) -> Pairs:
    """Return the pairs of a core and a line within its reach, in the order of the cores and of the lines of each."""
    x, y = cores["x_m"].to_numpy(), cores["y_m"].to_numpy()
    rows: list[Places | None] = []

    def asked() -> Iterator[Looked]:
        for cell in cells:
            here = x[cell], y[cell], reach_m[cell]
            own = rows_near(lines.tree, *here) if engine.sends else None
            rows.append(own)
            if own is None:
                yield Looked(*here, from_shapely(lines.shapes), lines.tree)
            else:
                yield Looked(*here, from_shapely(lines.shapes[own]))

    found = engine.each(look, asked(), [len(cell) for cell in cells], count.told)
    if len(cells) == 1 and rows[0] is None:
        return found[0]
    core = np.concatenate([cell[one.core] for cell, one in zip(cells, found, strict=True)])
    line = np.concatenate([one.line if own is None else own[one.line] for own, one in zip(rows, found, strict=True)])
    order = np.argsort(core, kind="stable")
    return Pairs(core[order], line[order], np.concatenate([one.distance for one in found])[order])


def _weighed(
    cores: pd.DataFrame,
    cells: list[Places],
    pairs: Pairs,
    segments: gpd.GeoDataFrame,
    lines: Lines,
    evidence: Evidence | None,
    learning: Learning | None,
    count: Count,
    engine: Engine,
) -> list[Cell]:
    """Weigh the lines within reach of the cores of each cell."""
    parts = [rows_of(pairs.core, cell) if len(cell) < len(cores) else slice(None) for cell in cells]
    rows = [np.unique(pairs.line[part]) if engine.sends else None for part in parts]
    to_weigh = (
        _share(cores, cell, pairs.of(part), segments, lines, own, evidence, learning)
        for cell, part, own in zip(cells, parts, rows, strict=True)
    )
    found = engine.each(weigh, to_weigh, [len(cell) for cell in cells], count.told)
    return [Cell(*one) for one in zip(cells, rows, found, strict=True)]


def _share(
    cores: pd.DataFrame,
    cell: Places,
    pairs: Pairs,
    segments: gpd.GeoDataFrame,
    lines: Lines,
    rows: Places | None,
    evidence: Evidence | None,
    learning: Learning | None,
) -> Share:
    """Return what is sent to where the lines of the cores of a cell are weighed."""
    here = cores if len(cell) == len(cores) else cores.iloc[cell]
    number = np.full(len(cores), -1)
    number[cell] = np.arange(len(cell))
    pairs = pairs._replace(core=number[pairs.core])
    if rows is None:
        return Share(here, pairs, segments, lines.segment, lines.pieces, evidence, learning)
    columns = [name for name in LINE_COLUMNS if name in segments]
    near = segments[[*columns, segments.geometry.name]].iloc[rows].reset_index(drop=True)
    pairs = pairs._replace(line=np.searchsorted(rows, pairs.line))
    return Share(
        here.reset_index(drop=True),
        pairs,
        near,
        lines.segment[rows],
        None,
        evidence,
        learning and learning.applicable(),
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
