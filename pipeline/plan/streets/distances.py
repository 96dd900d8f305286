"""Shortest paths among some places: searched when they are asked for, no farther than need be, and kept."""

from collections.abc import Iterator
from typing import Final

import numpy as np

from pipeline.plan.streets.network import Floats, Ints, Network
from pipeline.plan.streets.paths import graph_around, searched
from pipeline.plan.streets.seats import Seats

__all__ = ["Distances"]

# paths are kept for so many places, and for more where the nodes of the network are so many times as many: each place
# is a node that every search passes, and of many places few are asked for twice
_FEW: Final = 2000
_NODES_EACH: Final = 10
# cells of the table that is kept
_KEPT: Final = 20_000_000
# a path is looked for within so many times the straight line and so many metres more; if it is longer, within a
# multiple of that
_STRETCH: Final = 1.5
_MORE_M: Final = 100.0
_WIDER: Final = (1.0, 4.0, np.inf)
_LEAST_M: Final = 1.0


class Distances:
    """Shortest paths among n places along the network around them, in metres; infinite where there is none.

    The ways from the places to the network are left out. ``keeps``: whether a table of them is kept as it is asked for;
    otherwise, only pairs of places are asked for.
    """

    def __init__(self, network: Network, seats: Seats, xy: Floats, places: Ints) -> None:
        self._places = np.unique(places)
        count = len(self._places)
        self._matrix = graph_around(network, seats, xy, self._places).matrix
        self._first = self._matrix.shape[0] - count
        self.keeps = count <= max(_FEW, self._matrix.shape[0] // _NODES_EACH)
        # places that join at one node have the same paths
        node = np.where(seats.edge[self._places] < 0, seats.node[self._places], -1 - np.arange(count))
        _, first, alike = np.unique(node, return_index=True, return_inverse=True)
        self._alike = first[alike]
        # the paths from a place to all others are a row of what is kept; -1 as long as nobody has asked for them
        self._row = np.full(count, -1)
        self._kept, self._full = np.empty((min(_KEPT // count, count) if self.keeps else 0, count)), 0

    def has(self, places: Ints) -> bool:
        """Return whether all of some places are among the n."""
        at = np.minimum(self._at(places), len(self._places) - 1)
        return bool((self._places[at] == places).all())

    def table(self, origins: Ints, destinations: Ints) -> Floats:
        """Return the paths from N to M of the places, N by M."""
        metres: Floats
        begin, end = self._alike[self._at(origins)], self._at(destinations)
        asked = np.unique(begin)
        missing = asked[self._row[asked] < 0]
        if self._full + len(missing) > len(self._kept):
            self._row[:], self._full, missing = -1, 0, asked
        if len(missing) > len(self._kept):
            found = np.concatenate([paths[:, end] for _, paths in self._searched(asked)])
            metres = found[np.searchsorted(asked, begin)]
            return metres
        for number, paths in self._searched(missing):
            rows = np.arange(self._full, self._full + len(paths))
            self._kept[rows], self._row[missing[number : number + len(paths)]] = paths, rows
            self._full += len(paths)
        metres = self._kept[self._row[begin][:, None], end]
        return metres

    def between(self, origins: Ints, destinations: Ints, apart_m: Floats, most_m: float = np.inf) -> Floats:
        """Return the path from each of N of the places to the one beside it; of more than ``most_m``, infinite.

        ``apart_m``: the straight lines between them. The search ends at a multiple of these, where that is enough.
        """
        begin, end = self._alike[self._at(origins)], self._at(destinations)
        metres = np.full(len(begin), np.inf)
        known, left = np.flatnonzero(self._row[begin] >= 0), np.flatnonzero(self._row[begin] < 0)
        metres[known] = self._kept[self._row[begin[known]], end[known]]
        for wider in _WIDER:
            limit_m = np.maximum(np.minimum((apart_m[left] * _STRETCH + _MORE_M) * wider, most_m), _LEAST_M)
            farthest = np.zeros(len(self._row))
            np.maximum.at(farthest, begin[left], limit_m)
            # places with paths of about the same length are searched together
            scale = np.ceil(2 * np.log2(farthest[begin[left]]))
            for one in np.unique(scale):
                some = left[scale == one]
                metres[some] = self._pairs(begin[some], end[some], float(farthest[begin[some]].max()))
            left = left[~np.isfinite(metres[left]) & (limit_m < most_m)]
        return metres

    def _at(self, places: Ints) -> Ints:
        return np.searchsorted(self._places, places)

    def _pairs(self, origins: Ints, destinations: Ints, limit_m: float) -> Floats:
        asked, row = np.unique(origins, return_inverse=True)
        metres = np.empty(len(origins))
        for begin, paths in self._searched(asked, limit_m):
            some = np.flatnonzero((row >= begin) & (row < begin + len(paths)))
            metres[some] = paths[row[some] - begin, destinations[some]]
        return metres

    def _searched(self, places: Ints, limit_m: float = np.inf) -> Iterator[tuple[int, Floats]]:
        """Yield the paths from some of the places to all, a few at a time, and which of those is their first."""
        for begin, paths in searched(self._matrix, self._first + places, limit_m):
            yield begin, paths[:, self._first :]
