"""What the outcomes of rules come to by group: observed, expected among alike cores, and how far findings cluster.

All of it is sums, so that several rules together are the sum of their tallies.
"""

from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import gammaincinv

from pipeline.audit.comparison.tails import Numbers
from pipeline.audit.outcomes import AT_LIMIT, FOUND

__all__ = [
    "Cells",
    "Clustering",
    "Codes",
    "Expected",
    "Spread",
    "by_group",
    "cells_of",
    "clusters_by_group",
    "counted",
    "expected",
    "pieces",
    "ranked",
]

# of the spread of a group's clusters
_BEYOND_CHANCE: Final = 0.9
# a core that was assessed is found, passed or at the limit
_OUTCOMES: Final = 3
# times as many numbers as there may be that could occur, for them to be marked rather than sorted
_DENSE: Final = 16
# places and numbers of cores; half the width of an index is enough for them
Codes = npt.NDArray[np.integer[Any]]


@dataclass(frozen=True)
class Cells:
    """The pairs of stratum and group that occur among N cores.

    ``of_core``: the cell of each core, -1 where it is in no group. ``group``, ``stratum``: of each cell. ``groups``,
    ``strata``: how many there are.
    """

    of_core: Codes
    group: Codes
    stratum: Codes
    groups: int
    strata: int


def ranked(numbers: npt.NDArray[np.int64]) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.intp]]:
    """Return the different ones of N whole numbers from 0 on, rising, and the place of each number among them."""
    most = int(numbers.max(initial=-1)) + 1
    if most <= _DENSE * len(numbers):
        # where most numbers occur, marking them takes a fraction of the time of sorting
        is_there = np.zeros(most, dtype=bool)
        is_there[numbers] = True
        different = np.flatnonzero(is_there)
        place = np.empty(most, dtype=np.intp)
        place[different] = np.arange(len(different))
        return different, place[numbers]
    codes, different = pd.factorize(numbers)
    order = np.argsort(different)
    place = np.empty(len(order), dtype=np.intp)
    place[order] = np.arange(len(order))
    return different[order], place[codes]


def cells_of(group: Codes, stratum: Codes, groups: int) -> Cells:
    """Return the cells of N cores; a core with group -1 is in none."""
    known = group >= 0
    together, at = ranked(stratum[known].astype(np.int64) * groups + group[known])
    of_core = np.full(len(group), -1, dtype=np.int32)
    of_core[known] = at
    strata, place = ranked(together // groups)
    return Cells(of_core, (together % groups).astype(np.int32), place.astype(np.int32), groups, len(strata))


@dataclass(frozen=True)
class Expected:
    """Of each group: its checks, and what they would come to if it did as the others do on alike cores.

    ``checks``, ``found``, ``at_limit``: numbers of its cores. ``rest_checks``: those of all other groups.
    ``more_found``: its findings in strata in which chance has a say; ``more``, ``more_variance``, ``more_most``: their
    mean, variance and largest number if it is no worse than the others, with cores at the limit counted as found in all
    other groups and as passed in its own; ``less_found`` to ``less_most``: with the reverse.
    ``alike_checks``: its checks in strata that other groups have checks in as well; ``alike_found``: findings that the
    shares of the others in these strata come to on them.
    """

    checks: Numbers
    found: Numbers
    at_limit: Numbers
    rest_checks: Numbers
    more_found: Numbers
    more: Numbers
    more_variance: Numbers
    more_most: Numbers
    less_found: Numbers
    less: Numbers
    less_variance: Numbers
    less_most: Numbers
    alike_checks: Numbers
    alike_found: Numbers


def counted(place: Codes, codes: npt.NDArray[np.int8], count: int) -> Numbers:
    """Return how many cores are found, passed and at the limit in each of ``count`` places: a row per place.

    Parameters
    ----------
    place
        Place of each of N cores that were assessed, -1 for none.
    codes
        Their outcomes: ``FOUND``, ``PASSED`` or ``AT_LIMIT``.
    count
        Number of places.
    """
    # cores without a place are counted in front of all places
    at = (place + 1) * _OUTCOMES + codes
    counts = np.bincount(at, minlength=(count + 1) * _OUTCOMES).reshape(-1, _OUTCOMES)
    return counts[1:].astype(np.float64)


def by_group(cells: Cells, counts: Numbers) -> tuple[Cells, Numbers]:
    """Return the cells and counts of the same cores with all strata in one."""
    one = Cells(cells.of_core, np.arange(cells.groups), np.zeros(cells.groups, dtype=np.intp), cells.groups, 1)
    return one, np.stack([np.bincount(cells.group, column, cells.groups) for column in counts.T], axis=1)


def expected(cells: Cells, counts: Numbers) -> Expected:
    """Return what one rule comes to by group; ``counts`` has the outcomes in each cell, as ``counted`` returns them."""
    group, stratum = cells.group, cells.stratum
    n, f, a = counts.sum(axis=1), counts[:, FOUND], counts[:, AT_LIMIT]
    all_n, all_f, all_a = (_sums(stratum, values, cells.strata)[stratum] for values in (n, f, a))
    rest_n, rest_f = all_n - n, all_f - f
    rest_share = np.divide(rest_f, rest_n, out=np.zeros(len(n)), where=rest_n > 0)
    more = _hypergeometric(f, n, all_n, all_f + all_a - a)
    less = _hypergeometric(f + a, n, all_n, all_f + a)
    sums = {
        "checks": n,
        "found": f,
        "at_limit": a,
        "alike_checks": n * (rest_n > 0),
        "alike_found": n * rest_share,
        **dict(zip(("more_found", "more", "more_variance", "more_most"), more, strict=True)),
        **dict(zip(("less_found", "less", "less_variance", "less_most"), less, strict=True)),
    }
    by_name = {name: _sums(group, values, cells.groups) for name, values in sums.items()}
    return Expected(**by_name, rest_checks=by_name["checks"].sum() - by_name["checks"])


def _sums(place: Codes, values: Numbers, count: int) -> Numbers:
    """Return the sum of values in each of ``count`` places."""
    return np.bincount(place, values, count).astype(np.float64)


def _hypergeometric(
    observed: Numbers, drawn: Numbers, lot: Numbers, marked: Numbers
) -> tuple[Numbers, Numbers, Numbers, Numbers]:
    """Return the marked ones among those drawn from a lot: observed, mean, variance, and all that are marked.

    Zero where they cannot be otherwise, as where all of the lot are drawn, or all or none are marked.
    """
    spread = drawn * marked * (lot - drawn) * (lot - marked)
    is_free = spread > 0
    variance = np.divide(spread, lot**2 * (lot - 1), out=np.zeros(len(lot)), where=is_free)
    mean = np.divide(drawn * marked, lot, out=np.zeros(len(lot)), where=is_free)
    return observed * is_free, mean, variance, marked * is_free


class Spread(NamedTuple):
    """What a clustering comes to: the design effect of each group, that of all together, degrees of freedom, clusters.

    ``clusters``: how many each group has checks in.
    """

    effect: Numbers
    overall: float
    degrees: float
    clusters: Codes


@dataclass(frozen=True)
class Clustering:
    """How findings cluster, by piece: the cores of one cluster that are in one group.

    ``group``: of each piece. ``off``: by how many its findings exceed those that the share of its group comes to.
    ``apart``: the variance it would have if its checks were independent. ``checks``: their number.
    """

    group: Codes
    groups: int
    off: Numbers
    apart: Numbers
    checks: Numbers

    def effects(self) -> tuple[Numbers, float]:
        """Return the design effect of each group, and that of all groups together, each 1 at least.

        All groups share one intra-cluster correlation; what it comes to in a group depends on its clusters' sizes.
        A group whose own findings cluster more than that, beyond chance, has the least design effect that fits them.
        """
        used = self.checks > 0
        group, checks, apart_of = self.group[used], self.checks[used], self.apart[used]
        squares, apart, pairs, all_checks, all_pairs, count = (
            _sums(group, values, self.groups)
            for values in (
                self.off[used] ** 2, apart_of, (checks - 1) * apart_of, checks, (checks - 1) * checks,
                np.ones(len(group)),
            )
        )  # fmt: skip
        several = (count > 1) & (apart > 0)
        if not several.any():
            return np.ones(self.groups), 1.0
        # a share fitted to few clusters hides part of their spread
        squares = np.divide(squares * count, count - 1, out=np.zeros(self.groups), where=several)
        correlation = (squares - apart)[several].sum() / max(pairs[several].sum(), 1.0)
        # a group without findings does not show how they would cluster, but all groups do
        shared = 1 + correlation * np.divide(all_pairs, all_checks, out=np.zeros(self.groups), where=all_checks > 0)
        own = np.divide(squares, apart, out=np.ones(self.groups), where=several)
        degrees = np.maximum(count - 1, 1)
        # the quantile of chi-squared is twice that of a gamma of half its degrees
        least = own * degrees / (2 * gammaincinv(degrees / 2, _BEYOND_CHANCE))
        overall = squares[several].sum() / apart[several].sum()
        return np.maximum(np.maximum(least, shared), 1.0), max(float(overall), 1.0)

    def degrees(self) -> float:
        """Return the degrees of freedom by which the design effects are known.

        Clusters of all groups, less a share fitted in each. Clusters of unequal size count as fewer equal ones.
        """
        used = self.checks > 0
        group, checks = self.group[used], self.checks[used]
        sums, squares = (_sums(group, checks**power, self.groups) for power in (1, 2))
        equal = np.divide(sums**2, squares, out=np.ones(self.groups), where=squares > 0)
        return max(float((equal - 1).sum()), 1.0)

    def spread(self) -> Spread:
        """Return what it comes to by group; a clustering is as long as there are cores."""
        return Spread(*self.effects(), self.degrees(), np.bincount(self.group[self.checks > 0], minlength=self.groups))

    def plus(self, other: "Clustering") -> "Clustering":
        """Return two rules together, whose pieces are the same."""
        return Clustering(
            self.group, self.groups, self.off + other.off, self.apart + other.apart, self.checks + other.checks
        )


def pieces(cluster: Codes, group: Codes, groups: int) -> tuple[Codes, Codes]:
    """Return for each of N cores the number of its piece, -1 where it is in no group, and the group of each piece."""
    known = group >= 0
    together, at = ranked(cluster[known].astype(np.int64) * groups + group[known])
    of_core = np.full(len(group), -1, dtype=np.int32)
    of_core[known] = at
    return of_core, (together % groups).astype(np.int32)


def clusters_by_group(group_of_piece: Codes, groups: int, counts: Numbers) -> Clustering:
    """Return how the findings of one rule cluster; ``counts`` has the outcomes in each piece.

    A core at the limit counts as half a finding.
    """
    checks = counts.sum(axis=1)
    hits = counts[:, FOUND] + counts[:, AT_LIMIT] / 2
    squares = counts[:, FOUND] + counts[:, AT_LIMIT] / 4
    all_checks, all_hits = (np.bincount(group_of_piece, values, groups) for values in (checks, hits))
    share = np.divide(all_hits, all_checks, out=np.zeros(groups), where=all_checks > 0)[group_of_piece]
    # sums over the piece of value less share, and of its square
    return Clustering(
        group_of_piece, groups, hits - checks * share, squares - 2 * hits * share + checks * share**2, checks
    )
