"""The fewest bags, exactly: every way to split a few cores into clusters, an integer programme for some more.

Clusterings are as in :mod:`pipeline.order.mixes.clusters`: each cluster is named by its lowest core.
"""

from typing import Final

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from pipeline.order.mixes.clusters import ONE_BAG, Floats, Ints, bags_of, name_clusters

__all__ = ["MOST_ENUMERATED", "reach_bits", "split_by_programme", "split_few"]

MOST_ENUMERATED: Final = 10
_CHUNK: Final = 2048
_NEVER: Final = 100
# the cost of a bag: more than the leftovers of ten clusters
_BAG: Final = 2**16
_MOST_CLIQUES: Final = 400
# a limit in nodes, not in seconds, so that the answer does not depend on the machine
_NODES: Final = 200
_EXACT: Final = 1e-6


def reach_bits(count: int, size: int, problem: Ints, first: Ints, second: Ints) -> Ints:
    """Return which cores are within reach of each core, one bit per core.

    Parameters
    ----------
    count, size
        The number of problems, and of cores in each.
    problem, first, second
        P pairs within reach: the problem, and the positions of the two cores in it.

    Returns
    -------
    numpy.ndarray
        ``count`` rows of ``size`` numbers; bit j of number i is set if core j is within reach of core i.
    """
    near = np.zeros((count, size), dtype=np.int64)
    np.bitwise_or.at(near, (problem, first), np.int64(1) << second)
    np.bitwise_or.at(near, (problem, second), np.int64(1) << first)
    return near


def split_few(need: Ints, near: Ints, *, gather: bool = False) -> Ints:
    """Split each of many small sets of cores into the clusters that take the fewest bags.

    For every subset, the best of all ways to split off the cluster of its first core is worked out.

    Parameters
    ----------
    need
        B problems of n cores, n at most MOST_ENUMERATED: needs below one bag.
    near
        B problems of n cores, as :func:`reach_bits` returns them.
    gather
        Among equally good ways, prefer large leftovers in few clusters, which other cores may use, to small ones in
        each; otherwise the way that shares least.

    Returns
    -------
    numpy.ndarray
        B by n: the clustering of each problem's cores.
    """
    chunks = [
        _split_few(need[at : at + _CHUNK].T, near[at : at + _CHUNK].T, gather=gather)
        for at in range(0, len(need), _CHUNK)
    ]
    return np.concatenate(chunks) if chunks else np.empty(need.shape, dtype=np.int64)


def _split_few(need: Ints, near: Ints, *, gather: bool) -> Ints:
    size, count = need.shape
    total = np.zeros((1, count), dtype=np.int64)
    within = np.ones((1, count), dtype=bool)
    for core in range(size):
        sets = np.arange(len(total))[:, None]
        total = np.concatenate([total, total + need[core]])
        within = np.concatenate([within, within & (sets & near[core] == sets)])
    bags = bags_of(total)
    waste = (bags * ONE_BAG - total) / ONE_BAG
    cost = np.where(within, bags * _BAG + waste * (1 - waste) * (_BAG / 4) * gather, _NEVER * _BAG).astype(np.int32)
    best = np.zeros((2**size, count), dtype=np.int32)
    split = np.zeros((2**size, count), dtype=np.int16)
    every = np.arange(2**size)
    every = every[np.argsort(np.bitwise_count(every), kind="stable")]
    for left in range(1, 2**size):
        subsets = every[(every & left == every) & (every & left & -left > 0)]
        ways = cost[subsets] + best[left ^ subsets]
        choice = ways.argmin(axis=0)
        split[left] = subsets[choice]
        best[left] = np.take_along_axis(ways, choice[None], axis=0)[0]
    cluster = np.zeros((count, size), dtype=np.int64)
    left_over = np.full(count, 2**size - 1)
    for _ in range(size):
        taken = split[left_over, np.arange(count)]
        # the lowest core left is in the cluster that is split off
        lowest = np.bitwise_count((left_over & -left_over) - 1)
        cluster += ((taken[:, None] >> np.arange(size)) & 1) * lowest[:, None]
        left_over ^= taken
    return cluster


def split_by_programme(need: Ints, near: list[int]) -> tuple[Ints | None, int]:
    """Split the cores of one connected component by an integer programme.

    Each core is assigned to one of the maximal sets of cores within reach of each other, and each set mixes whole bags
    for the cores assigned to it. Maximal sets are enough: a larger set never takes more bags.

    Parameters
    ----------
    need
        n needs above zero and below one bag.
    near
        n whole numbers of any size, one bit per core within reach.

    Returns
    -------
    tuple
        The clustering, or None if none was found within the limit; and a proven lower bound, in bags.
    """
    cliques = _maximal_sets(near)
    if len(cliques) > _MOST_CLIQUES:
        return None, 0
    core, clique = np.array(
        [(core, number) for number, members in enumerate(cliques) for core in range(len(need)) if members >> core & 1]
    ).T
    goes = np.arange(len(core))
    share = need[core] / ONE_BAG
    one = np.ones(len(core))
    mixed = len(core) + clique
    width = len(core) + len(cliques)

    def rows(*parts: tuple[Ints, Ints, Floats], height: int) -> coo_array:
        row, column, value = (np.concatenate(each) for each in zip(*parts, strict=True))
        return coo_array((value, (row, column)), shape=(height, width)).tocsr()

    every = np.arange(len(cliques))
    found = milp(
        np.concatenate([np.zeros(len(core)), np.ones(len(cliques))]),
        integrality=np.ones(width),
        bounds=Bounds(0, np.concatenate([one, np.full(len(cliques), len(need))])),
        constraints=[
            LinearConstraint(rows((core, goes, one), height=len(need)), 1, 1),
            LinearConstraint(
                rows((clique, goes, share), (every, len(core) + every, -np.ones(len(cliques))), height=len(cliques)),
                -np.inf,
                0,
            ),
            # a set with a core takes at least one bag: without this the bound is weak
            LinearConstraint(rows((goes, goes, one), (goes, mixed, -one), height=len(core)), -np.inf, 0),
        ],
        options={"node_limit": _NODES, "mip_rel_gap": 0},
    )
    bound = 0 if found.mip_dual_bound is None else int(np.ceil(found.mip_dual_bound - _EXACT))
    if found.x is None:
        return None, bound
    chosen = found.x[: len(core)] > 0.5
    chosen_clique = np.zeros(len(need), dtype=np.int64)
    chosen_clique[core[chosen]] = clique[chosen]
    return name_clusters(chosen_clique), bound


def _maximal_sets(near: list[int]) -> list[int]:
    """Return the sets of cores within reach of each other that no core can join (Bron and Kerbosch 1973, pivoted)."""
    found: list[int] = []
    todo = [(0, (1 << len(near)) - 1, 0)]
    while todo and len(found) <= _MOST_CLIQUES:
        members, may, gone = todo.pop()
        if not may:
            if not gone:
                found.append(members)
            continue
        pivot = max(_bits(may | gone), key=lambda core: (may & near[core]).bit_count())
        for core in _bits(may & ~near[pivot]):
            todo.append((members | 1 << core, may & near[core], gone & near[core]))
            may &= ~(1 << core)
            gone |= 1 << core
    return sorted(found)


def _bits(members: int) -> list[int]:
    return [core for core in range(members.bit_length()) if members >> core & 1]
