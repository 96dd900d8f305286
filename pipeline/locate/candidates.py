"""Candidate segments of each core: those within reach, and the best two, by distance or by likelihood."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from pipeline.clock import uncounted

__all__ = ["EQUAL_M", "BestTwo", "Pairs", "likeliest_two", "nearest_shape", "nearest_two", "pairs_within_reach"]

# distances closer than this are equal: only rounding separates them
EQUAL_M = 1e-6
# cores looked around at a time
_CHUNK = 100_000
# shares are compared after rounding to this many decimals, for the same reason
_EQUAL_SHARE_DECIMALS = 9


class Pairs(NamedTuple):
    """P pairs of a core and a line within its reach, by position among cores and lines; the distance is in metres."""

    core: npt.NDArray[np.intp]
    line: npt.NDArray[np.intp]
    distance: npt.NDArray[np.float64]

    def of(self, here: npt.NDArray[np.intp] | slice) -> "Pairs":
        """Return some of them."""
        return Pairs(self.core[here], self.line[here], self.distance[here])


class BestTwo(NamedTuple):
    """For each of N cores the pair with its own segment and the pair with the runner-up; -1 where there is none."""

    first: npt.NDArray[np.intp]
    second: npt.NDArray[np.intp]


def pairs_within_reach(
    points: npt.NDArray[np.object_],
    lines: npt.NDArray[np.object_],
    tree: shapely.STRtree,
    reach_m: npt.NDArray[np.float64] | float,
    told: Callable[[int], None] = uncounted,
) -> Pairs:
    """Return every pair of a point and a line no further apart than ``reach_m``: one for all points, or one for each.

    Boxes are compared first, then exact distances. ``tree`` holds ``lines``. ``told`` is told how many points are done.
    The pairs are in the order of the points, and of the lines of each: the tree's own order is another among other
    lines, and with it the last digit of a sum.
    """
    reach = np.broadcast_to(reach_m, len(points))
    found = [Pairs(np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0))]
    for begin in range(0, len(points), _CHUNK):
        here = slice(begin, begin + _CHUNK)
        x, y, far = shapely.get_x(points[here]), shapely.get_y(points[here]), reach[here]
        core, line = tree.query(shapely.box(x - far, y - far, x + far, y + far))
        distance = shapely.distance(points[here][core], lines[line])
        near = np.flatnonzero(distance <= far[core])
        near = near[np.lexsort((line[near], core[near]))]
        found.append(Pairs(core[near] + begin, line[near], distance[near]))
        told(begin + len(far))
    return Pairs(*(np.concatenate(column) for column in zip(*found, strict=True)))


def nearest_shape(
    points: npt.NDArray[np.object_], tree: shapely.STRtree
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.float64]]:
    """Return the nearest shape to each of N points at any distance, and that distance in metres.

    Of shapes at the same distance the first of the tree counts.
    """
    (_, _), least = tree.query_nearest(points, return_distance=True, all_matches=False)
    core, shape = tree.query(points, predicate="dwithin", distance=least + EQUAL_M)
    distance = shapely.distance(points[core], tree.geometries[shape])
    best = _nearest_pair(Pairs(core, shape, distance), len(points))
    return shape[best], distance[best]


def nearest_two(pairs: Pairs, segment_of_line: npt.NDArray[np.intp], count: int) -> BestTwo:
    """Return the nearest segment of each of ``count`` cores, and the nearest of the other segments.

    ``segment_of_line`` numbers the segment of each line: the lines of one segment are one candidate. Of lines at the
    same distance the first in the layer counts.
    """
    first = _nearest_pair(pairs, count)
    own = np.full(count, -1)
    has_segment = first >= 0
    own[has_segment] = segment_of_line[pairs.line[first[has_segment]]]
    others = np.flatnonzero(segment_of_line[pairs.line] != own[pairs.core])
    second = _nearest_pair(Pairs(pairs.core[others], pairs.line[others], pairs.distance[others]), count)
    has_second = second >= 0
    second[has_second] = others[second[has_second]]
    return BestTwo(first, second)


def _nearest_pair(pairs: Pairs, count: int) -> npt.NDArray[np.intp]:
    """Return the nearest pair of each of ``count`` cores, the lowest line of those equally near; -1 without any."""
    core, line, distance = pairs
    least = np.full(count, np.inf)
    np.minimum.at(least, core, distance)
    equal = np.flatnonzero(distance <= least[core] + EQUAL_M)
    order = equal[np.lexsort((line[equal], core[equal]))]
    cores, first = np.unique(core[order], return_index=True)
    best = np.full(count, -1)
    best[cores] = order[first]
    return best


def likeliest_two(
    pairs: Pairs, segment_of_line: npt.NDArray[np.intp], likelihood: npt.NDArray[np.float64], count: int
) -> tuple[BestTwo, pd.DataFrame]:
    """Return the likeliest segment of each of ``count`` cores and the next likeliest, with the share of every segment.

    Parameters
    ----------
    pairs
        P pairs of a core and a line within its reach.
    segment_of_line
        Number of each line's segment: the lines of one segment are one candidate, represented by the nearest.
    likelihood
        P likelihoods, up to a factor common to all pairs of a core.
    count
        Number of cores. Of segments equally likely the first in the layer counts.

    Returns
    -------
    tuple
        The best two, and one row per core and segment: ``core``, ``segment`` (its nearest line), ``pair``, ``share``
        (of the core's total likelihood, 0 to 1), sorted by core.
    """
    total = np.bincount(pairs.core, likelihood, minlength=count)[pairs.core]
    share = np.divide(likelihood, total, out=np.zeros(len(likelihood)), where=total > 0)
    number = segment_of_line[pairs.line]
    order = np.lexsort((pairs.line, pairs.distance, number, pairs.core))
    begins = np.flatnonzero(_differs(pairs.core[order]) | _differs(number[order]))
    nearest = order[begins]
    shares = pd.DataFrame(
        {
            "core": pairs.core[nearest],
            "segment": pairs.line[nearest],
            "pair": nearest,
            "share": _summed(share[order], begins),
        }
    )
    core, segment = shares["core"].to_numpy(), shares["segment"].to_numpy()
    ranked = np.lexsort((segment, -shares["share"].round(_EQUAL_SHARE_DECIMALS).to_numpy(), core))
    heads = np.flatnonzero(_differs(core[ranked]))
    first, second = np.full(count, -1), np.full(count, -1)
    first[core[ranked[heads]]] = nearest[ranked[heads]]
    more = heads[np.diff(heads, append=len(ranked)) > 1] + 1
    second[core[ranked[more]]] = nearest[ranked[more]]
    return BestTwo(first, second), shares


def _differs(values: npt.NDArray[np.intp]) -> npt.NDArray[np.bool_]:
    """Return whether each value differs from the one before; the first does."""
    differs = np.ones(len(values), dtype=bool)
    differs[1:] = values[1:] != values[:-1]
    return differs


def _summed(values: npt.NDArray[np.float64], begins: npt.NDArray[np.intp]) -> npt.NDArray[np.float64]:
    """Return the sum of each run of values that begins there; what rounding takes from a sum is made good in the next.

    Most runs have one value, and none has many.
    """
    size = np.diff(begins, append=len(values))
    total, lost = np.zeros(len(begins)), np.zeros(len(begins))
    for place in range(int(size.max(initial=0))):
        run = np.flatnonzero(size > place)
        value = values[begins[run] + place] - lost[run]
        further = total[run] + value
        lost[run] = (further - total[run]) - value
        total[run] = further
    return total
