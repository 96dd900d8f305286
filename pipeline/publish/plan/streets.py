"""The streets of a small map: those within its frame, in millimetres of paper, the ones that matter first."""

from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

__all__ = ["Frame", "Street", "Streets", "frame_of"]

Floats = npt.NDArray[np.float64]
# around the outermost stops, in metres, and as a share of what they span
_LEAST_MARGIN_M: Final = 60.0
_MARGIN: Final = 0.12
# a map draws no more points than this, so that a page stays small
_MOST_POINTS: Final = 1500
# millimetres of paper: what simplifying may move, and the shortest street drawn
_TOLERANCE_MM: Final = 0.2
_SHORTEST_MM: Final = 2.0


class Frame(NamedTuple):
    """What a map shows: its middle in metres, metres per millimetre of paper, and its size in millimetres."""

    x_m: float
    y_m: float
    m_per_mm: float
    wide_mm: float
    high_mm: float

    def on_paper(self, xy: Floats) -> Floats:
        """Return N points in metres (x, y) as millimetres from the upper left corner."""
        flat = (np.asarray(xy, float) - [self.x_m, self.y_m]) / self.m_per_mm
        placed: Floats = flat * [1, -1] + [self.wide_mm / 2, self.high_mm / 2]
        return placed


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


class Streets:
    """The road segments, indexed once for the maps of all days.

    Parameters
    ----------
    segments
        M rows with a line geometry in the run's CRS (metres), and ``street``.
    """

    def __init__(self, segments: gpd.GeoDataFrame) -> None:
        self._lines = shapely.force_2d(segments.geometry.to_numpy())
        self._names = segments["street"].fillna("").astype(str).to_numpy(object)
        self._tree = shapely.STRtree(self._lines)

    def within(self, frame: Frame, with_stops: set[str]) -> list[Street]:
        """Return the streets in a frame: those that stops are on, then the longest on paper.

        No more are returned than a map can show, but always those that stops are on.
        """
        half = np.array([frame.wide_mm, frame.high_mm]) / 2 * frame.m_per_mm
        box = (frame.x_m - half[0], frame.y_m - half[1], frame.x_m + half[0], frame.y_m + half[1])
        at = np.sort(self._tree.query(shapely.box(*box)))
        lines = shapely.clip_by_rect(self._lines[at], *box)
        kept = ~shapely.is_empty(lines)
        lines, names = lines[kept], self._names[at][kept]
        lines = shapely.transform(lines, frame.on_paper)
        # segments of a street are joined into long lines; those without a name stay as they are
        keys = np.where(names == "", np.arange(len(lines)), -1)
        streets = [
            Street(
                str(names[members[0]]),
                shapely.line_merge(shapely.multilinestrings(_parts(lines[members]))),
                bool(names[members[0]] in with_stops),
            )
            for members in pd.DataFrame({"name": names, "key": keys}).groupby(["name", "key"]).indices.values()
        ]
        drawn = [street._replace(lines=shapely.simplify(street.lines, _TOLERANCE_MM)) for street in streets]
        drawn.sort(key=lambda one: (not one.has_stop, -round(float(shapely.length(one.lines)), 3), one.name))
        points = np.cumsum([int(shapely.get_num_coordinates(one.lines)) for one in drawn])
        return [
            one
            for one, so_far in zip(drawn, points, strict=True)
            if one.has_stop or (so_far <= _MOST_POINTS and shapely.length(one.lines) >= _SHORTEST_MM)
        ]


def _parts(lines: npt.NDArray[np.object_]) -> npt.NDArray[np.object_]:
    """Return the single lines of N lines and multilines; what clipping left as a point is none."""
    parts: npt.NDArray[np.object_] = shapely.get_parts(lines)
    is_line: npt.NDArray[np.object_] = parts[shapely.get_type_id(parts) == 1]
    return is_line
