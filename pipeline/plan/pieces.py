"""Jobs that sets tie together, taken in pieces that lie together where they are too many."""

from itertools import pairwise

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from pipeline.plan.travel import Floats, Ints

__all__ = ["linked", "pieces", "runs"]


def linked(members: Ints, count: int) -> Ints:
    """Return, for each of some jobs, the number of the part that it is in: sets tie their members together.

    ``members``: sets, one per row, -1 after the last.
    """
    first = np.broadcast_to(members[:, :1], members.shape)
    ties = (first.ravel(), np.where(members >= 0, members, first).ravel())
    parts: Ints = connected_components(csr_array((np.ones(members.size), ties), shape=(count, count)), directed=False)[
        1
    ]
    return parts


def runs(numbers: Ints) -> list[tuple[int, int]]:
    """Return where each run of equal numbers begins and ends."""
    cuts = np.flatnonzero(np.diff(numbers)) + 1
    edges = [0, *cuts.tolist(), len(numbers)] if len(numbers) else [0]
    return list(pairwise(edges))


def pieces(together: Ints, jobs: Ints, xy: Floats, most: int, turn: int = 0) -> Ints:
    """Return the piece that each job is in, -1 for those that are not asked for.

    Parameters
    ----------
    together
        N numbers of the parts that the jobs are in.
    jobs
        The jobs that are asked for.
    xy
        N by 2, where the jobs lie.
    most
        A part with more jobs is halved across its longer side, until no piece has more.
    turn
        1: the first cut of a large part is off the middle, and with it all others lie elsewhere.
    """
    piece = np.full(len(xy), -1, dtype=np.int64)
    order = jobs[np.argsort(together[jobs], kind="stable")]
    waiting = [order[begin:end] for begin, end in runs(together[order])]
    number = 0
    while waiting:
        some = waiting.pop()
        if len(some) <= most:
            piece[some] = number
            number += 1
            continue
        side = int(np.argmax(np.ptp(xy[some], axis=0)))
        ranked = some[np.lexsort((some, xy[some, side]))]
        at = len(ranked) * 2 // 5 if turn and len(ranked) > 2 * most else len(ranked) // 2
        waiting += [ranked[:at], ranked[at:]]
    return piece
