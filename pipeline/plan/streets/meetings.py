"""Where a line of the road layer ends at another without sharing a vertex: at a gap, or at the middle of the other."""

from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt
import shapely
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components

__all__ = ["Meetings", "Vertices", "meetings_of"]

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
# what is nearer than this touches, and is no gap
_TOUCHES_M: Final = 1e-3


class Vertices(NamedTuple):
    """The nodes that the lines have of themselves.

    ``xy``: V by 2. The other four have a row for each of the lines that a node lies on, sorted by ``mark``: ``line``,
    ``mark`` (metres along all lines laid end to end), ``node``, and ``is_end`` of that line.
    """

    xy: Floats
    line: Ints
    mark: Floats
    node: Ints
    is_end: Bools


class Meetings(NamedTuple):
    """New nodes, where lines are split (``xy``, ``line``, ``mark``, ``node``), and ``links`` between two nodes each.

    ``gap_m``: the length of each link. ``gaps``: how many gaps the links close; ends that all meet at one junction
    have one gap less than there are ends.
    """

    xy: Floats
    line: Ints
    mark: Floats
    node: Ints
    links: Ints
    gap_m: Floats
    gaps: int


def meetings_of(
    lines: npt.NDArray[Any], is_underground: Bools, known: Vertices, first: Floats, gap_m: float
) -> Meetings:
    """Return where lines end within ``gap_m`` of another line that they share no vertex with.

    Parameters
    ----------
    lines, is_underground
        M lines, and whether each is below ground: an end meets a line only on its own level.
    known
        The nodes that the lines have of themselves.
    first
        Marks at the starts of the M lines.
    gap_m
        Widest gap, in metres.
    """
    gap_m = max(gap_m, _TOUCHES_M)
    owns = _incidence(known, len(lines))
    node, line = _near(lines, known, gap_m)
    levels = csr_array(owns @ np.column_stack([~is_underground, is_underground]).astype(float))
    node, line = _on_their_level(node, line, levels, is_underground)
    points = shapely.points(known.xy[node])
    along = shapely.line_locate_point(lines[line], points)
    mark = first[line] + along
    joined = _nearest_node(node, line, mark, known)
    is_split = np.hypot(*(known.xy[joined] - known.xy[node]).T) > gap_m
    count = len(known.xy)
    new = count + np.arange(is_split.sum())
    joined[is_split] = new
    split_xy = shapely.get_coordinates(shapely.line_interpolate_point(lines[line], along))[is_split].reshape(-1, 2)
    xy = np.concatenate([known.xy, split_xy])
    links = np.unique(np.sort(np.column_stack([node, joined]), axis=1), axis=0)
    old = links[:, 1] < count
    shared = np.zeros(len(links), dtype=bool)
    shared[old] = np.asarray(owns[links[old, 0]].multiply(owns[links[old, 1]]).sum(axis=1)).ravel() > 0
    links = links[~shared]
    length = np.hypot(*(xy[links[:, 0]] - xy[links[:, 1]]).T)
    return Meetings(split_xy, line[is_split], mark[is_split], new, links, length, _gaps(links, length, len(xy)))


def _incidence(known: Vertices, lines: int) -> csr_array:
    """Return V by M: whether a node lies on a line."""
    ones = np.ones(len(known.node))
    return csr_array(coo_array((ones, (known.node, known.line)), shape=(len(known.xy), lines)))


def _near(lines: npt.NDArray[Any], known: Vertices, gap_m: float) -> tuple[Ints, Ints]:
    """Return the pairs of an end and a line within ``gap_m`` that it does not lie on."""
    ends = np.unique(known.node[known.is_end])
    around = shapely.box(*(known.xy[ends] - gap_m).T, *(known.xy[ends] + gap_m).T)
    at, line = shapely.STRtree(lines).query(around)
    node = ends[at]
    keys = known.node * len(lines) + known.line
    foreign = ~np.isin(node * len(lines) + line, keys)
    node, line = node[foreign], line[foreign]
    near = shapely.distance(shapely.points(known.xy[node]), lines[line]) <= gap_m
    order = np.lexsort((line[near], node[near]))
    return node[near][order], line[near][order]


def _on_their_level(node: Ints, line: Ints, levels: csr_array, is_underground: Bools) -> tuple[Ints, Ints]:
    has = levels.toarray() > 0
    same = has[node, is_underground[line].astype(int)]
    return node[same], line[same]


def _nearest_node(node: Ints, line: Ints, mark: Floats, known: Vertices) -> Ints:
    """Return, of the nodes of each line, the one nearest to ``mark`` along it."""
    after = np.clip(np.searchsorted(known.mark, mark), 1, len(known.mark) - 1)
    found = np.stack([after - 1, after])
    apart = np.hypot(*np.moveaxis(known.xy[known.node[found]] - known.xy[node], -1, 0))
    apart[known.line[found] != line] = np.inf
    nearest: Ints = known.node[found[apart.argmin(axis=0), np.arange(len(node))]]
    return nearest


def _gaps(links: Ints, length: Floats, count: int) -> int:
    wide = links[length > _TOUCHES_M]
    graph = coo_array((np.ones(len(wide)), (wide[:, 0], wide[:, 1])), shape=(count, count))
    return count - int(connected_components(graph, directed=False)[0])
