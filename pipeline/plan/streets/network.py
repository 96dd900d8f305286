"""The network of the road segments: nodes where lines end or meet, and the edges between them."""

from collections.abc import Callable
from typing import Any, Final, NamedTuple

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from pipeline.plan.streets.meetings import Vertices, meetings_of
from pipeline.plan.streets.nearby import Nearby, nearby_of

__all__ = ["Floats", "Ints", "Network", "network_of"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
# vertices nearer than this are one
_ONE_POINT_M: Final = 1e-3
# marks are measured along all lines laid end to end, with a space between them so that no two lines share a mark
_SPACE_M: Final = 1.0


class Network(NamedTuple):
    """A network of M lines: V nodes, and E edges sorted by ``start``, those that close gaps last.

    A mark is a position on a line: metres along all lines laid end to end. ``xy``: V by 2, in metres of the run's CRS.
    ``part``: V numbers of the connected part that each node belongs to. ``tail``, ``head``: nodes of each edge.
    ``length``: E metres. ``start``: E marks of the tails; NaN for an edge that closes a gap. ``first``, ``last``: M
    marks of the ends of each line. ``points``, ``marks``: the vertices of all lines. ``gaps``: gaps closed.
    ``splits``: places where a line was split, since another ends at its middle. ``nearby``: finds nodes and edges by
    where they lie. ``within``: the lower left and the upper right corner of the box in which a part of a network is as
    the whole, see ``part_of``; None for a whole network. The lines of a part, and their vertices, are left out.
    """

    xy: Floats
    part: Ints
    tail: Ints
    head: Ints
    length: Floats
    start: Floats
    first: Floats
    last: Floats
    points: Floats
    marks: Floats
    gaps: int
    splits: int
    nearby: Nearby
    within: tuple[Floats, Floats] | None = None

    def __reduce__(self) -> tuple[Callable[[dict[str, Any]], "Network"], tuple[dict[str, Any]]]:
        """Send all but the index, which is half of the bytes and soon made again."""
        return _received, ({name: value for name, value in self._asdict().items() if name != "nearby"},)


def _received(sent: dict[str, Any]) -> Network:
    return Network(**sent, nearby=nearby_of(sent["xy"], sent["tail"], sent["head"]))


def network_of(segments: gpd.GeoDataFrame, gap_m: float) -> Network:
    """Return the network of the road segments.

    Lines meet where they share a vertex, and where one ends within ``gap_m`` of another. Lines that merely cross do not
    meet, since one may be a bridge; nor does a line above ground meet one below it, unless they share a vertex. Every
    line may be travelled both ways: one-way streets are not known.

    Parameters
    ----------
    segments
        M unbroken lines in the run's CRS, in metres: ``is_underground``, geometry.
    gap_m
        Widest gap that is closed.
    """
    lines = np.asarray(segments.geometry.array)
    points, line = shapely.get_coordinates(lines, return_index=True)
    changes = np.diff(line, prepend=line[:1]) != 0
    steps = np.hypot(*np.diff(points, axis=0, prepend=points[:1]).T)
    marks = np.cumsum(np.where(changes, _SPACE_M, steps))
    is_first = np.diff(line, prepend=-1) != 0
    is_last = np.diff(line, append=len(lines)) != 0
    vertex = _same_points(points)
    is_node = np.bincount(vertex) > 1
    is_node[vertex[is_first | is_last]] = True
    at = np.flatnonzero(is_node[vertex])
    number, kept = pd.factorize(vertex[at])
    _, one_of_each = np.unique(vertex, return_index=True)
    xy = points[one_of_each[kept]]
    known = Vertices(xy, line[at], marks[at], number.astype(np.int64), (is_first | is_last)[at])
    met = meetings_of(lines, segments["is_underground"].to_numpy(bool), known, marks[is_first], gap_m)
    order = np.lexsort((np.concatenate([known.node, met.node]), np.concatenate([known.mark, met.mark])))
    on, mark = np.concatenate([known.line, met.line])[order], np.concatenate([known.mark, met.mark])[order]
    node = np.concatenate([known.node, met.node])[order]
    follows = np.flatnonzero(np.diff(on) == 0)
    xy = np.concatenate([xy, met.xy])
    tail = np.concatenate([node[follows], met.links[:, 0]])
    head = np.concatenate([node[follows + 1], met.links[:, 1]])
    linked = coo_array((np.ones(len(tail)), (tail, head)), shape=(len(xy), len(xy)))
    return Network(
        xy,
        connected_components(linked, directed=False)[1].astype(np.int64),
        tail,
        head,
        np.concatenate([np.diff(mark)[follows], met.gap_m]),
        np.concatenate([mark[follows], np.full(len(met.links), np.nan)]),
        marks[is_first],
        marks[is_last],
        points,
        marks,
        met.gaps,
        len(met.node),
        nearby_of(xy, tail, head),
    )


def _same_points(points: Floats) -> Ints:
    """Return numbers of N points; those that are equal to the millimetre have the same."""
    whole = np.rint((points - points.min(axis=0)) / _ONE_POINT_M).astype(np.int64)
    number: Ints = pd.factorize(whole[:, 0] * (whole[:, 1].max() + 1) + whole[:, 1])[0].astype(np.int64)
    return number
