"""The work on the cores of one cell: which lines lie within reach, and which of them is each core's own."""

from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from geopandas.array import GeometryArray

from pipeline.engines import Done
from pipeline.locate.candidates import BestTwo, Pairs, likeliest_two, nearest_two, pairs_within_reach
from pipeline.locate.chainage import chainage_and_side
from pipeline.locate.learnt_errors import Learning, LearntErrors, with_learnt
from pipeline.locate.posterior import Evidence, Pieces, pair_likelihood, pieces_of
from pipeline.locate.reasons import nearest_candidates, weighed_candidates

__all__ = ["LINE_COLUMNS", "Looked", "Share", "Weighed", "look", "weigh"]

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

# what weighing reads of a line
LINE_COLUMNS: Final = ("start_m", "half_width_m", "street_form", "is_underground", "has_width", "number")


class Looked(NamedTuple):
    """Where N cores lie and how far to look, in metres, and the lines; ``tree``: that of the lines, if there is one."""

    x: Floats
    y: Floats
    reach_m: Floats
    lines: GeometryArray
    tree: shapely.STRtree | None = None


def look(cell: Looked, done: Done) -> Pairs:
    """Return the pairs of a core and a line within its reach."""
    lines = np.asarray(cell.lines)
    tree = shapely.STRtree(lines) if cell.tree is None else cell.tree
    return pairs_within_reach(shapely.points(cell.x, cell.y), lines, tree, cell.reach_m, done)


class Share(NamedTuple):
    """The cores of one cell, and what decides which of their P pairs is each core's own.

    ``cores``: N rows of what weighing reads. ``pairs``: by position among the cores and the lines. ``lines``: M rows of
    LINE_COLUMNS, ``number``: the number of each one's segment, ``pieces``: theirs, if they are known. ``evidence``:
    how names weigh; None where the nearest line is taken. ``learning``: what was learnt of the errors, if anything.
    """

    cores: pd.DataFrame
    pairs: Pairs
    lines: gpd.GeoDataFrame
    number: Places
    pieces: Pieces | None
    evidence: Evidence | None
    learning: Learning | None


class Weighed(NamedTuple):
    """What follows for the N cores of a cell; lines by position among those of the cell.

    ``own``: on the cores that have a segment, ``line``, ``distance``, ``confidence``, ``name_match``, ``chainage_m``
    and ``side``. ``second``: on those that have a runner-up, its ``line`` and ``confidence``. ``shares`` and
    ``candidates``: as ``segments.Found`` has them. ``widths``: how likely each width of the learnt error is the core's
    own, as ``LearntErrors`` has it; None where nothing is learnt.
    """

    own: pd.DataFrame
    second: pd.DataFrame
    shares: pd.DataFrame
    candidates: pd.DataFrame
    widths: Floats | None


def weigh(share: Share, done: Done) -> Weighed:
    """Weigh the lines within reach of each core, and return its own and the next."""
    pairs, number, count = share.pairs, share.number, len(share.cores)
    confidence, match = np.full(len(pairs.line), np.nan), np.full(len(pairs.line), np.nan)
    shares = pd.DataFrame({"core": [], "segment": [], "share": []}).astype({"core": int, "segment": int})
    learnt: LearntErrors | None = None
    if share.evidence is None:
        best = nearest_two(pairs, number, count)
        candidates = nearest_candidates(pairs, best)
    else:
        pieces = share.pieces or pieces_of(np.asarray(share.lines.geometry.array))
        weights = pair_likelihood(pairs, share.cores, share.lines, share.evidence, pieces)
        if share.learning is not None:
            given = pairs, share.cores, share.lines, weights, share.evidence, pieces, share.learning
            weights, learnt = with_learnt(*given, lambda pair: done(pair * count // len(pairs.core)))
        match = weights.match
        best, weighed = likeliest_two(pairs, number, weights.likelihood, count)
        candidates = weighed_candidates(pairs, number, weights, weighed, share.lines)
        confidence[weighed["pair"].to_numpy()] = weighed["share"].clip(0, 1).to_numpy()
        shares = weighed[["core", "segment", "share"]]
    facts = pd.DataFrame(
        {"line": pairs.line, "distance": pairs.distance, "confidence": confidence, "name_match": match}
    )
    done(count)
    widths = None if learnt is None else learnt.widths
    return Weighed(*_best_of(share, facts, best), shares, candidates, widths)


def _best_of(share: Share, facts: pd.DataFrame, best: BestTwo) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the facts of each core's own line, with chainage and side, and those of the runner-up."""
    has_segment, has_second = (np.flatnonzero(pair >= 0) for pair in best)
    own = facts.iloc[best.first[has_segment]].set_axis(has_segment)
    line, there = own["line"].to_numpy(), share.cores.iloc[has_segment]
    points = shapely.points(there["x_m"].to_numpy(), there["y_m"].to_numpy())
    shapes = np.asarray(share.lines.geometry.array)
    along, side = chainage_and_side(points, line, shapes, own["distance"], share.pieces)
    own = own.assign(chainage_m=along + share.lines["start_m"].to_numpy()[line], side=side)
    return own, facts.iloc[best.second[has_second]].set_axis(has_second)[["line", "confidence"]]
