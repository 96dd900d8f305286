"""Pairs of cores that one mix might serve, as far as the way between them, shade, district, crew and day go."""

from typing import Final, NamedTuple

import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from pipeline.plan.crews import Bools
from pipeline.plan.slots import Bits
from pipeline.plan.travel import Floats, Ints, Travel

__all__ = ["Pairs", "near_pairs"]

_CLOSE: Final = 1e-9
# how many of the nearest cores are tried for each: all within reach where there are few
_FEWEST, _MOST, _IN_ALL = 48, 250, 1_000_000
# cores at one spot are taken in their order, so that not all of them have the same neighbours; far less than any road
_APART_M: Final = 1e-6


class Pairs(NamedTuple):
    """P pairs of the N jobs: ``members``, P by 2, the lower first, sorted; ``walk_min`` between them."""

    members: Ints
    walk_min: Floats
    key: Ints
    jobs: int

    @property
    def none(self) -> Bools:
        """No job at all."""
        return np.zeros(self.jobs, dtype=bool)

    def within(self, minutes: float) -> "Pairs":
        """Return the pairs that are no further apart."""
        kept = self.walk_min <= minutes + _CLOSE
        return self._replace(members=self.members[kept], walk_min=self.walk_min[kept], key=self.key[kept])

    def nearest(self, most: int) -> tuple["Pairs", Ints]:
        """Return the pairs in which one is among the ``most`` nearest of the other, and the jobs of all others."""
        one, other = np.concatenate([self.members, self.members[:, ::-1]]).T
        order = np.lexsort((np.abs(one - other), np.tile(self.walk_min, 2), one))
        ranked = one[order]
        rank = np.empty(len(one), dtype=np.int64)
        rank[order] = np.arange(len(one)) - np.searchsorted(ranked, ranked, "left")
        kept = (rank < most).reshape(2, -1).any(axis=0)
        near = self._replace(members=self.members[kept], walk_min=self.walk_min[kept], key=self.key[kept])
        return near, np.unique(self.members[~kept])

    def minutes(self, one: Ints, other: Ints) -> Floats:
        """Return the minutes on foot between jobs; infinite for those that are no pair."""
        if not len(self.key):
            return np.full(len(one), np.inf)
        key = np.minimum(one, other) * self.jobs + np.maximum(one, other)
        at = np.minimum(np.searchsorted(self.key, key), len(self.key) - 1)
        minutes: Floats = np.where(self.key[at] == key, self.walk_min[at], np.inf)
        return minutes

    def sizes(self, jobs: Ints) -> Ints:
        """Return the number of pairs of each of some jobs with one after it."""
        begin, end = (np.searchsorted(self.members[:, 0], jobs, side) for side in ("left", "right"))
        found: Ints = end - begin
        return found

    def after(self, jobs: Ints) -> tuple[Ints, Ints]:
        """Return, for each of some jobs, those of its pairs that come after it: which one of ``jobs``, and the pair."""
        begin, sizes = np.searchsorted(self.members[:, 0], jobs, "left"), self.sizes(jobs)
        row = np.repeat(np.arange(len(jobs)), sizes)
        offset = np.arange(len(row)) - np.repeat(np.cumsum(sizes) - sizes, sizes)
        return row, self.members[begin[row] + offset, 1]


def near_pairs(
    jobs: pd.DataFrame, hands: Floats, bits: Bits, travel: Travel, working_min: float, walking_m_min: float
) -> tuple[Pairs, Bools]:
    """Return the pairs, and which jobs may have further pairs, beyond the nearest that were tried.

    Parameters
    ----------
    jobs
        N jobs: ``shade``, ``district``, ``net_bags``, ``place``, ``x_m``, ``y_m``.
    hands
        Minutes to pour and to press each.
    bits
        N rows of bits: the crews and days that each may be done by; a pair needs one in common.
    travel
        Distances; none is shorter than the straight line.
    working_min, walking_m_min
        The working time of a mix, and the speed on foot.
    """
    hidden = np.zeros(len(jobs), dtype=bool)
    members = [np.empty((0, 2), dtype=np.int64)]
    xy = jobs[["x_m", "y_m"]].to_numpy(float)
    able = jobs["net_bags"].gt(0).to_numpy() & (hands + hands.min(initial=np.inf) <= working_min + _CLOSE)
    # a bag that is opened in one district for a core of another would be ordered for the wrong one
    kind = jobs.groupby(["shade", "district"], sort=True).ngroup().to_numpy()
    for number in np.unique(kind[able & (kind >= 0)]):
        mine = np.flatnonzero(able & (kind == number))
        if len(mine) > 1:
            reach = (working_min - 2 * hands[mine].min()) * walking_m_min + 1.0
            found, beyond = _nearest(xy[mine], reach)
            members.append(mine[found])
            hidden[mine] |= beyond
    near = np.concatenate(members)
    near = near[hands[near].sum(axis=1) <= working_min + _CLOSE]
    near = near[(bits[near[:, 0]] & bits[near[:, 1]]).any(axis=1)]
    near = near[np.lexsort((near[:, 1], near[:, 0]))]
    place = jobs["place"].to_numpy()
    most_m = (working_min - hands[near].sum(axis=1).min(initial=np.inf) + _CLOSE) * walking_m_min
    walk = travel.between(place[near[:, 0]], place[near[:, 1]], most_m) / walking_m_min
    kept = hands[near].sum(axis=1) + walk <= working_min + _CLOSE
    near, walk = near[kept], walk[kept]
    return Pairs(near, walk, near[:, 0] * len(jobs) + near[:, 1], len(jobs)), hidden


def _nearest(xy: Floats, reach: float) -> tuple[Ints, Bools]:
    """Return the pairs of each of n cores with its nearest within reach, and which may have more than were tried."""
    apart = np.column_stack([np.arange(len(xy)) * (_APART_M / len(xy)), np.zeros(len(xy))])
    tried = min(int(np.clip(_IN_ALL // len(xy), _FEWEST, _MOST)), len(xy) - 1)
    distance, other = cKDTree(xy + apart).query(xy + apart, k=tried + 1, distance_upper_bound=reach)
    one = np.broadcast_to(np.arange(len(xy))[:, None], other.shape)
    within = np.isfinite(distance) & (other != one)
    pairs = np.sort(np.column_stack([one[within], other[within]]), axis=1)
    beyond = np.isfinite(distance).all(axis=1) & (tried < len(xy) - 1)
    return np.unique(pairs.astype(np.int64), axis=0), beyond
