"""Pairs of places in blocks whose first places lie together, so that a small part of the network does for each."""

from itertools import pairwise
from typing import Final

import numpy as np

from pipeline.plan.streets.network import Floats, Ints

__all__ = ["blocks_of"]

# distances are asked for in blocks of so many places that lie together
_BLOCK: Final = 200


def blocks_of(xy: Floats, places: Ints) -> list[Ints]:
    """Return the positions in ``places`` of those that lie together, block by block; a place is in one block only."""
    halves = _halved(xy, np.unique(places))
    block_of = np.full(len(xy), -1)
    for number, block in enumerate(halves):
        block_of[block] = number
    order = np.argsort(block_of[places], kind="stable")
    ends = np.searchsorted(block_of[places[order]], np.arange(len(halves) + 1))
    return [order[begin:end] for begin, end in pairwise(ends)]


def _halved(xy: Floats, places: Ints) -> list[Ints]:
    """Return some places in blocks that lie together, each halved along its longer side until it is small."""
    if not len(places):
        return []
    if len(places) <= _BLOCK:
        return [places]
    side = int(np.argmax(np.ptp(xy[places], axis=0)))
    order = places[np.lexsort((places, xy[places, side]))]
    half = len(order) // 2
    return [*_halved(xy, order[:half]), *_halved(xy, order[half:])]
