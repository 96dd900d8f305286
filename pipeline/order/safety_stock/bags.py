"""The bags that one district may need, by shade: simulated once per source of uncertainty and once with all of them."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from pipeline.order.safety_stock.draws import drawn_hits, drawn_sums, in_pieces, needs_of
from pipeline.order.safety_stock.shades_and_sizes import mean_terms
from pipeline.order.safety_stock.volume_model import Floats

__all__ = ["SOURCES", "Bags", "add_waste", "no_bags", "simulate_district"]

SOURCES: Final = ("shade", "size", "waste", "model")
# a chance closer than this to 0 or 1 is certain
_CERTAIN: Final = 1e-6


@dataclass(frozen=True)
class Bags:
    """Bags of K shades: ``cores`` and ``expected`` (K each), and by source the ``simulated`` bags (S by K)."""

    cores: Floats
    expected: Floats
    simulated: dict[str, Floats]

    def __add__(self, other: "Bags") -> "Bags":
        """Add up two districts, simulation by simulation."""
        both = {source: self.simulated[source] + table for source, table in other.simulated.items()}
        return Bags(self.cores + other.cores, self.expected + other.expected, both)

    def of(self, number: int | slice) -> "Bags":
        """Return the bags of one shade, or of several together."""
        which = slice(number, number + 1) if isinstance(number, int) else number
        return Bags(
            self.cores[which].sum(),
            self.expected[which].sum(),
            {source: table[:, which].sum(axis=1) for source, table in self.simulated.items()},
        )


def no_bags(simulations: int, shades: int) -> Bags:
    """Return the bags of no cores at all."""
    nothing = np.zeros((simulations, shades))
    return Bags(nothing[0], nothing[0], dict.fromkeys((*SOURCES, "all"), nothing))


def simulate_district(
    chance: Floats,
    size: tuple[Floats, Floats, Floats],
    pool: tuple[Floats, Floats],
    drawn: Floats,
    likeliest: Floats,
    rng: np.random.Generator,
) -> Bags:
    """Simulate the bags of one district, with every source but waste.

    Parameters
    ----------
    chance
        N cores by K shades.
    size
        Diameter as recorded, depth and hollow bed of the N cores, in millimetres; missing where to be drawn.
    pool
        Diameters and depths to draw from.
    drawn, likeliest
        Bags per unit of each term: S draws by T, and the likeliest T, as ``volume_model.bags_of_terms`` returns them.
    rng
        The source of random numbers.
    """
    wide, deep, bed = size
    terms = mean_terms(wide, deep, bed, pool)
    mean = chance.T @ terms
    is_known = np.isfinite(wide) & np.isfinite(deep)
    is_certain = ((chance < _CERTAIN) | (chance > 1 - _CERTAIN)).all(axis=1)
    # cores of known size and shade are the same in all simulations
    fixed = chance[is_known & is_certain].T @ terms[is_known & is_certain]
    by_shade, by_all = np.tile(fixed @ likeliest, (len(drawn), 1)), drawn @ fixed.T
    by_size = np.tile(chance[is_known].T @ terms[is_known] @ likeliest, (len(drawn), 1))
    edges = np.minimum(np.cumsum(chance, axis=1), 1).astype(np.float32)
    # only the terms that the model uses
    used = np.flatnonzero((drawn != 0).any(axis=0))
    for core in in_pieces(np.flatnonzero(is_known & ~is_certain), len(drawn)):
        for number, sums in enumerate(drawn_sums(edges[core], terms[core][:, used], len(drawn), rng)):
            by_shade[:, number] += sums @ likeliest[used]
            by_all[:, number] += (sums * drawn[:, used]).sum(axis=1)
    for core in in_pieces(np.flatnonzero(~is_known), len(drawn)):
        at = rng.integers(0, len(pool[0]), (len(drawn), len(core)))
        width, depth = (
            np.where(np.isnan(own[core]), of[at], own[core]) for own, of in zip((wide, deep), pool, strict=True)
        )
        by_size += needs_of(width, depth, bed[core], likeliest[None]) @ chance[core]
        needs = needs_of(width, depth, bed[core], drawn)
        for number, hit in enumerate(drawn_hits(edges[core], len(drawn), rng)):
            by_shade[:, number] += hit @ (terms[core] @ likeliest)
            by_all[:, number] += (hit * needs).sum(axis=1)
    simulated = {"shade": by_shade, "size": by_size, "model": drawn @ mean.T, "all": by_all}
    return Bags(chance.sum(axis=0), mean @ likeliest, simulated)


def add_waste(bags: Bags, factor: Floats, waste: float, rng: np.random.Generator) -> Bags:
    """Return the bags opened: those needed, times the factor of each shade for mixing, and those lost on the way.

    Parameters
    ----------
    bags
        The bags of K shades, without waste.
    factor
        Bags mixed per bag needed, for each shade.
    waste
        Share of all bags opened that are lost.
    rng
        The source of random numbers.
    """
    expected = bags.expected * factor
    simulated = {source: table * factor for source, table in bags.simulated.items()}
    simulated["waste"] = expected + _lost(np.tile(expected, (len(simulated["all"]), 1)), waste, rng)
    simulated["all"] = simulated["all"] + _lost(simulated["all"], waste, rng)
    return Bags(bags.cores, expected, simulated)


def _lost(bags: Floats, waste: float, rng: np.random.Generator) -> Floats:
    """Draw how many bags are lost until the number asked for is not."""
    lost = np.zeros_like(bags)
    if waste > 0:
        some = bags > 0
        lost[some] = rng.negative_binomial(bags[some], 1 - waste)
    return lost
