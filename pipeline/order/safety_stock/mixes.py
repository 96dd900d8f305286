"""The bags to mix in each simulation: the need of every mix of the plan is drawn, and rounded up to whole bags.

A core that takes another shade than planned leaves its mix and gets a mix of its own in that shade; the other cores of
its mix still share theirs. A core that cannot be reinstated after all leaves its mix and needs nothing.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pipeline.order.safety_stock.draws import drawn_hits, edges_of, in_pieces, whole_mixes
from pipeline.order.safety_stock.volume_model import Floats

__all__ = ["Mixes", "mixed_bags"]

Ints = npt.NDArray[np.int64]
# a chance closer than this to 1 is certain
_CERTAIN: Final = 1e-6


@dataclass(frozen=True)
class Mixes:
    """N cores in M mixes: ``terms`` (N by T) and ``chance`` (N by K) of the cores, which are sorted by mix.

    ``starts``: position of the first core of each mix. ``shade``: number of the planned shade of each mix.
    """

    terms: Floats
    chance: Floats
    starts: Ints
    shade: Ints

    @property
    def of_core(self) -> Ints:
        """The number of each core's mix."""
        return np.repeat(np.arange(len(self.starts)), np.diff(self.starts, append=len(self.terms)))

    def only(self, which: Ints) -> "Mixes":
        """Return some of the mixes, by ascending numbers."""
        is_in = np.zeros(len(self.starts), dtype=bool)
        is_in[which] = True
        sizes = np.diff(self.starts, append=len(self.terms))[which]
        cores = is_in[self.of_core]
        return Mixes(self.terms[cores], self.chance[cores], np.cumsum(sizes) - sizes, self.shade[which])


def mixed_bags(
    mixes: Mixes, drawn: Floats, likeliest: Floats, smallest: float, rng: np.random.Generator
) -> dict[str, Floats]:
    """Simulate the bags to mix of each shade, without waste.

    Parameters
    ----------
    mixes
        The mixes of the plan.
    drawn, likeliest
        Bags per unit of each term: S draws by T, and the likeliest T, as ``volume_model.bags_of_terms`` returns them.
    smallest
        The smallest share of a bag that is mixed.
    rng
        The source of random numbers.

    Returns
    -------
    dict of str to numpy.ndarray
        S by K each: "shade" with the likeliest model, "model" with the planned shades, and "all" with both drawn.
    """
    planned = mixes.chance[np.arange(len(mixes.terms)), mixes.shade[mixes.of_core]]
    sure = np.ones(len(mixes.starts), dtype=bool)
    np.logical_and.at(sure, mixes.of_core, planned > 1 - _CERTAIN)
    certain, uncertain = mixes.only(np.flatnonzero(sure)), mixes.only(np.flatnonzero(~sure))
    simulations = len(drawn)
    model = _by_model(certain, drawn, smallest)
    by_shade, by_all = _by_shade(uncertain, drawn, likeliest, smallest, rng)
    fixed = _by_model(certain, likeliest[None], smallest)
    return {
        "shade": np.repeat(fixed, simulations, axis=0) + by_shade,
        "model": model + _by_model(uncertain, drawn, smallest),
        "all": model + by_all,
    }


def _by_model(mixes: Mixes, drawn: Floats, smallest: float) -> Floats:
    """Return the bags of each shade, S by K, if all cores take the planned shade."""
    bags = np.zeros((len(drawn), mixes.chance.shape[1]))
    if not len(mixes.starts):
        return bags
    terms = np.add.reduceat(mixes.terms, mixes.starts, axis=0)
    # mixes alike in shade and sizes need the same in every simulation
    kinds, place, alike = np.unique(
        np.column_stack([mixes.shade, terms]), axis=0, return_index=True, return_counts=True
    )
    # in the order of the mixes
    each, alike = kinds[np.argsort(place)], alike[np.argsort(place)]
    count = np.zeros((len(each), bags.shape[1]))
    count[np.arange(len(each)), each[:, 0].astype(int)] = alike
    for piece in in_pieces(np.arange(len(each)), len(drawn)):
        bags += whole_mixes(drawn @ each[piece, 1:].T, smallest) @ count[piece]
    return bags


def _by_shade(
    mixes: Mixes, drawn: Floats, likeliest: Floats, smallest: float, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Return the bags of each shade, S by K, with drawn shades: by the likeliest model, and by the drawn one."""
    by_shade, by_all = (np.zeros((len(drawn), mixes.chance.shape[1])) for _ in range(2))
    for planned in range(mixes.chance.shape[1]):
        for piece in in_pieces(np.flatnonzero(mixes.shade == planned), len(drawn)):
            some = mixes.only(piece)
            hits = drawn_hits(edges_of(some.chance), len(drawn), rng)
            _add(by_shade, planned, some.starts, hits, likeliest[None] @ some.terms.T, smallest)
            _add(by_all, planned, some.starts, hits, drawn @ some.terms.T, smallest)
    return by_shade, by_all


def _add(
    bags: Floats, planned: int, starts: Ints, hits: list[npt.NDArray[np.bool_]], needs: Floats, smallest: float
) -> None:
    """Add the bags of mixes of one planned shade; ``needs``: S by N, or 1 by N where they are always the same."""
    shared = np.add.reduceat(np.where(hits[planned], needs, 0.0), starts, axis=1)
    bags[:, planned] += whole_mixes(shared, smallest).sum(axis=1)
    alone = whole_mixes(needs, smallest)
    for number, hit in enumerate(hits):
        if number != planned:
            bags[:, number] += np.where(hit, alone, 0.0).sum(axis=1)
