"""The fewest bags, exactly: every way to part a few cores at once, an integer programme for some more."""

from typing import Final

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from pipeline.order.mixes.reach import WHOLE, Floats, Ints, bags_of

__all__ = ["MOST_ENUMERATED", "part_by_milp", "part_few", "relation"]

MOST_ENUMERATED: Final = 10
_CHUNK: Final = 2048
_NEVER: Final = 100
# a bag outweighs what ten clusters can leave over
_BAG: Final = 2**16
_MOST_CLIQUES: Final = 400
# a limit in seconds would let the answer depend on the machine
_NODES: Final = 200
_EXACT: Final = 1e-6


def relation(count: int, size: int, problem: Ints, first: Ints, second: Ints) -> Ints:
    """Who is within reach of whom: ``count`` problems by ``size`` cores, a bit for each other core."""
    near = np.zeros((count, size), dtype=np.int64)
    np.bitwise_or.at(near, (problem, first), np.int64(1) << second)
    np.bitwise_or.at(near, (problem, second), np.int64(1) << first)
    return near


def part_few(need: Ints, near: Ints, *, gather: bool = False) -> Ints:
    """Part each of many small sets of cores so that they take the fewest bags.

    Works out, for every subset, the best of all ways to split off the cluster of its first core.

    Parameters
    ----------
    need
        B problems of n cores, n at most MOST_ENUMERATED: needs below one bag.
    near
        B problems of n cores, as :func:`relation` gives them.
    gather
        Of equal ways choose the one that leaves over much in few clusters, where more cores may take it up, rather
        than a little in each; else the one that shares least.

    Returns
    -------
    numpy.ndarray
        B by n: the number of each core's cluster.
    """
    chunks = [
        _part_few(need[at : at + _CHUNK].T, near[at : at + _CHUNK].T, gather=gather)
        for at in range(0, len(need), _CHUNK)
    ]
    return np.concatenate(chunks) if chunks else np.empty(need.shape, dtype=np.int64)


def _part_few(need: Ints, near: Ints, *, gather: bool) -> Ints:
    size, count = need.shape
    total = np.zeros((1, count), dtype=np.int64)
    within = np.ones((1, count), dtype=bool)
    for core in range(size):
        sets = np.arange(len(total))[:, None]
        total = np.concatenate([total, total + need[core]])
        within = np.concatenate([within, within & (sets & near[core] == sets)])
    bags = bags_of(total)
    waste = (bags * WHOLE - total) / WHOLE
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
    for number in range(size):
        taken = split[left_over, np.arange(count)]
        cluster[(taken[:, None] >> np.arange(size)) & 1 > 0] = number
        left_over ^= taken
    return cluster


def part_by_milp(need: Ints, near: list[int]) -> tuple[Ints | None, int]:
    """Part the cores of one connected set by an integer programme.

    Every core goes to one of the largest sets of cores within reach of each other that it belongs to, and each such
    set mixes whole bags for those that go to it: sharing out a larger set never takes more bags.

    Parameters
    ----------
    need
        n needs above nought and below one bag.
    near
        n whole numbers, a bit for each core within reach.

    Returns
    -------
    tuple
        The number of each core's cluster, or None if none was found within the limit; and a proven lower bound, in
        bags.
    """
    cliques = _largest_within(near)
    if len(cliques) > _MOST_CLIQUES:
        return None, 0
    core, clique = np.array(
        [(core, number) for number, members in enumerate(cliques) for core in range(len(need)) if members >> core & 1]
    ).T
    goes = np.arange(len(core))
    share = need[core] / WHOLE
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
            # whoever goes there takes a bag at least: without it the programme proves little
            LinearConstraint(rows((goes, goes, one), (goes, mixed, -one), height=len(core)), -np.inf, 0),
        ],
        options={"node_limit": _NODES, "mip_rel_gap": 0},
    )
    bound = 0 if found.mip_dual_bound is None else int(np.ceil(found.mip_dual_bound - _EXACT))
    if found.x is None:
        return None, bound
    chosen = found.x[: len(core)] > 0.5
    cluster = np.zeros(len(need), dtype=np.int64)
    cluster[core[chosen]] = clique[chosen]
    return cluster, bound


def _largest_within(near: list[int]) -> list[int]:
    """Sets of cores within reach of each other that no core can be added to (Bron and Kerbosch 1973, with pivot)."""
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
    return [place for place in range(members.bit_length()) if members >> place & 1]
