"""The bags that a district may need, by shade, in every simulation: by one source of uncertainty, and by all."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from pipeline.order.safety_stock.volume_model import Floats

__all__ = ["SOURCES", "Bags", "add_waste", "lost_bags", "no_bags"]

SOURCES: Final = ("shade", "waste", "model")


@dataclass(frozen=True)
class Bags:
    """Bags of K shades: ``cores`` and ``planned`` (K each), and by source the ``simulated`` bags (S by K).

    Beside SOURCES there are "all" (all sources together) and "known model" (all but the model).
    """

    cores: Floats
    planned: Floats
    simulated: dict[str, Floats]

    def __add__(self, other: "Bags") -> "Bags":
        """Add up two districts, simulation by simulation."""
        both = {source: self.simulated[source] + table for source, table in other.simulated.items()}
        return Bags(self.cores + other.cores, self.planned + other.planned, both)

    def of(self, number: int | slice) -> "Bags":
        """Return the bags of one shade, or of several together."""
        which = slice(number, number + 1) if isinstance(number, int) else number
        return Bags(
            self.cores[which].sum(),
            self.planned[which].sum(),
            {source: table[:, which].sum(axis=1) for source, table in self.simulated.items()},
        )


def no_bags(simulations: int, shades: int) -> Bags:
    """Return the bags of no cores at all."""
    nothing = np.zeros((simulations, shades))
    return Bags(nothing[0], nothing[0], dict.fromkeys((*SOURCES, "all", "known model"), nothing))


def add_waste(bags: Bags, waste: float, rng: np.random.Generator) -> Bags:
    """Return the bags opened: those mixed, and those lost on the way.

    Parameters
    ----------
    bags
        The bags mixed of K shades, simulated for "shade", "model" and "all".
    waste
        Share of all bags opened that are lost.
    rng
        The source of random numbers.
    """
    mixed = bags.simulated
    planned = np.tile(bags.planned, (len(mixed["all"]), 1))
    simulated = {
        "shade": mixed["shade"],
        "model": mixed["model"],
        "waste": planned + lost_bags(planned, waste, rng),
        "all": mixed["all"] + lost_bags(mixed["all"], waste, rng),
        "known model": mixed["shade"] + lost_bags(mixed["shade"], waste, rng),
    }
    return Bags(bags.cores, bags.planned, simulated)


def lost_bags(bags: Floats, waste: float, rng: np.random.Generator) -> Floats:
    """Draw how many bags are lost until the number asked for is not."""
    lost = np.zeros_like(bags)
    if waste > 0:
        some = bags > 0
        lost[some] = rng.negative_binomial(bags[some], 1 - waste)
    return lost
