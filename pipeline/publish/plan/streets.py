"""The streets of small maps: those within each frame, in millimetres of paper, the ones that matter first."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.publish.plan.street_chords import Chords, chords_of

__all__ = ["Floats", "Frame", "Ints", "Lines", "Street", "Streets", "frame_of", "on_papers", "single_lines"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Lines = npt.NDArray[np.object_]
# around the outermost stops, in metres, and as a share of what they span
_LEAST_MARGIN_M: Final = 60.0
_MARGIN: Final = 0.12
# a map draws no more points than this, so that a page stays small
_MOST_POINTS: Final = 1500
# millimetres of paper: what simplifying may move, and the shortest street drawn
_TOLERANCE_MM: Final = 0.2
_SHORTEST_MM: Final = 2.0
# how far from both limits a length and a bend are taken as measured
_HARDLY_MM: Final = 0.01
_HARDLY_BENT_MM: Final = 1e-6


class Frame(NamedTuple):
    """What a map shows: its middle in metres, metres per millimetre of paper, and its size in millimetres."""

    x_m: float
    y_m: float
    m_per_mm: float
    wide_mm: float
    high_mm: float

    def on_paper(self, xy: Floats) -> Floats:
        """Return N points in metres (x, y) as millimetres from the upper left corner."""
        return on_papers([self], np.zeros(len(xy), np.intp), xy)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Its west, south, east and north in metres."""
        half_x, half_y = self.wide_mm / 2 * self.m_per_mm, self.high_mm / 2 * self.m_per_mm
        return self.x_m - half_x, self.y_m - half_y, self.x_m + half_x, self.y_m + half_y


class Street(NamedTuple):
    """A street: its name (empty for none), its lines on paper, and whether a stop is on it."""

    name: str
    lines: shapely.Geometry
    has_stop: bool


def frame_of(xy: Floats, wide_mm: float, high_mm: float) -> Frame:
    """Return the frame of a map of some millimetres that shows N points in metres, with a margin."""
    (west, south), (east, north) = xy.min(axis=0), xy.max(axis=0)
    margin = max(_LEAST_MARGIN_M, _MARGIN * max(east - west, north - south))
    scale = max((east - west + 2 * margin) / wide_mm, (north - south + 2 * margin) / high_mm)
    return Frame((west + east) / 2, (south + north) / 2, scale, wide_mm, high_mm)


def on_papers(frames: Sequence[Frame], frame: Ints, xy: Floats) -> Floats:
    """Return N points in metres as millimetres from the upper left corner of the frame that ``frame`` numbers."""
    table = np.array(frames, float).reshape(-1, len(Frame._fields))[frame]
    flat = (np.asarray(xy, float) - table[:, :2]) / table[:, 2:3]
    placed: Floats = flat * [1, -1] + table[:, 3:] / 2
    return placed


class Streets:
    """The road segments by street, for the maps of all days; a segment without a name is a street of its own.

    Parameters
    ----------
    segments
        M rows with a line geometry in the run's CRS (metres), and ``street``.
    """

    def __init__(self, segments: gpd.GeoDataFrame) -> None:
        codes, names = pd.factorize(segments["street"].fillna("").astype(str).to_numpy(object), sort=True)
        is_alone = np.array([name == "" for name in names], bool)[codes]
        # numbered in the order of the names, with none first
        street = np.where(is_alone, np.cumsum(is_alone) - 1, codes + len(codes))
        order = np.argsort(street, kind="stable")
        self._lines = shapely.force_2d(segments.geometry.to_numpy())[order]
        self._begins = np.flatnonzero(np.diff(street[order], prepend=-1) > 0)
        self._counts = np.diff(self._begins, append=len(order))
        self._names = names[codes[order][self._begins]]
        self._bounds = shapely.bounds(self._lines)
        low, high = np.hsplit(self._bounds, 2)
        boxes = [np.minimum.reduceat(low, self._begins), np.maximum.reduceat(high, self._begins)]
        self._boxes = np.hstack(boxes) if len(order) else np.zeros((0, 4))
        self._lengths = np.add.reduceat(shapely.length(self._lines), self._begins)
        self._tree = shapely.STRtree(shapely.box(*self._boxes.T))
        # of each street, worked out when it is first drawn whole
        self._chords = Chords(np.full(len(self._begins), np.nan), np.zeros((len(self._begins), 2, 2)))

    def within(self, frames: Sequence[Frame], with_stops: Sequence[set[str]]) -> list[list[Street]]:
        """Return the streets in each frame: those that stops are on, then the longest on paper.

        No more are returned than a map can show, but always those that stops are on.
        """
        frame, street = self._tree.query(shapely.box(*np.array([one.box for one in frames]).T))
        pairs = zip(self._names[street].tolist(), frame.tolist(), strict=True)
        has_stop = np.array([name in with_stops[number] for name, number in pairs], bool)
        # neither clipping nor simplifying makes a line longer
        m_per_mm = np.array([one.m_per_mm for one in frames])[frame]
        could = np.flatnonzero(has_stop | (self._lengths[street] > (_SHORTEST_MM - _HARDLY_MM) * m_per_mm))
        # streets are numbered in the order of their names
        could = could[np.lexsort((street[could], frame[could]))]
        frame, street, has_stop = frame[could], street[could], has_stop[could]
        lines = self._on_paper(frames, frame, street)
        lengths = shapely.length(lines)
        rounded = np.array([round(length, 3) for length in lengths.tolist()])
        order = np.lexsort((street, -rounded, ~has_stop, frame))
        order = order[~shapely.is_empty(lines[order])]
        begins = np.searchsorted(frame[order], np.arange(len(frames) + 1))
        points = np.cumsum(shapely.get_num_coordinates(lines[order]))
        points -= np.repeat(np.concatenate([[0], points])[begins[:-1]], np.diff(begins))
        order = order[has_stop[order] | ((points <= _MOST_POINTS) & (lengths[order] >= _SHORTEST_MM))]
        drawn: list[list[Street]] = [[] for _ in frames]
        shown = (frame[order], self._names[street[order]], lines[order], has_stop[order])
        for number, name, line, is_on in zip(*(column.tolist() for column in shown), strict=True):
            drawn[number].append(Street(name, line, is_on))
        return drawn

    def _on_paper(self, frames: Sequence[Frame], frame: Ints, street: Ints) -> Lines:
        """Return N streets in N frames, clipped, joined and simplified; empty where the frame shows nothing of one."""
        boxes = np.array([(*one.box, one.m_per_mm) for one in frames])[frame]
        mine, m_per_mm = self._boxes[street], boxes[:, 4]
        is_inside = ((mine[:, :2] >= boxes[:, :2]) & (mine[:, 2:] <= boxes[:, 2:4])).all(axis=1)
        self._measure(np.unique(street[is_inside]))
        is_chord = is_inside & (self._chords.bend[street] < (_TOLERANCE_MM - _HARDLY_BENT_MM) * m_per_mm)
        lines = np.full(len(street), shapely.LineString(), object)
        ends = self._chords.ends[street[is_chord]].reshape(-1, 2)
        lines[is_chord] = shapely.linestrings(on_papers(frames, np.repeat(frame[is_chord], 2), ends).reshape(-1, 2, 2))
        joined, at = self._joined(frames, frame[~is_chord], street[~is_chord])
        chords = chords_of(joined)
        is_straight = chords.bend < _TOLERANCE_MM - _HARDLY_BENT_MM
        joined[is_straight] = shapely.linestrings(chords.ends[is_straight])
        joined[~is_straight] = shapely.simplify(joined[~is_straight], _TOLERANCE_MM)
        lines[np.flatnonzero(~is_chord)[at]] = joined
        return lines

    def _measure(self, streets: Ints) -> None:
        """Keep the chords of streets that have none yet."""
        new = streets[np.isnan(self._chords.bend[streets])]
        street, segment = self._segments(new)
        # on paper, y runs down: lines are joined in an order that follows from their points
        lines = shapely.transform(self._lines[segment], lambda xy: xy * [1, -1])
        found = chords_of(_merged(lines, street))
        self._chords.bend[new], self._chords.ends[new] = found.bend, found.ends * [1, -1]

    def _segments(self, streets: Ints) -> tuple[Ints, Ints]:
        """Return the segments of N streets: which of the N each is of, and its number."""
        counts = self._counts[streets]
        of = np.repeat(np.arange(len(streets)), counts)
        before = np.cumsum(counts) - counts
        return of, np.arange(len(of)) - before[of] + self._begins[streets][of]

    def _joined(self, frames: Sequence[Frame], frame: Ints, street: Ints) -> tuple[Lines, Ints]:
        """Return the lines of N streets in N frames (rising), on paper, and which of the N each is of."""
        of, segment = self._segments(street)
        boxes = np.array([one.box for one in frames])[frame[of]]
        mine = self._bounds[segment]
        meets = ((mine[:, :2] <= boxes[:, 2:]) & (mine[:, 2:] >= boxes[:, :2])).all(axis=1)
        of, segment, boxes, mine = of[meets], segment[meets], boxes[meets], mine[meets]
        lines = self._lines[segment]
        crossing = np.flatnonzero(~((mine[:, :2] >= boxes[:, :2]) & (mine[:, 2:] <= boxes[:, 2:])).all(axis=1))
        ends = np.searchsorted(frame[of[crossing]], np.arange(len(frames) + 1))
        for one, (begin, end) in zip(frames, pairwise(ends), strict=True):
            here = crossing[begin:end]
            lines[here] = shapely.clip_by_rect(lines[here], *one.box)
        lines, part_of = single_lines(lines)
        of = of[part_of]
        xy, line_of = shapely.get_coordinates(lines, return_index=True)
        lines = shapely.linestrings(on_papers(frames, frame[of[line_of]], xy), indices=line_of)
        at, number = np.unique(of, return_inverse=True)
        return _merged(lines, number), at


def _merged(lines: Lines, owner: Ints) -> Lines:
    """Return the lines of each owner, whose numbers rise, joined where they meet."""
    parts, of = single_lines(lines)
    merged: Lines = shapely.line_merge(shapely.multilinestrings(parts, indices=owner[of]))
    return merged


def single_lines(lines: Lines) -> tuple[Lines, Ints]:
    """Return the single lines of N geometries, and which of the N each is of; points, as clipping leaves, are none."""
    is_one = shapely.get_type_id(lines) == shapely.GeometryType.LINESTRING
    several = np.flatnonzero(~is_one)
    parts, of = shapely.get_parts(lines[several], return_index=True)
    parts, of = np.concatenate([lines[is_one], parts]), np.concatenate([np.flatnonzero(is_one), several[of]])
    is_line = (shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(parts)
    order = np.argsort(of[is_line], kind="stable")
    return parts[is_line][order], of[is_line][order]
