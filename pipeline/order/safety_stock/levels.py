"""What the simulated bags come to: the bags that suffice, for each district and shade alone and for all at once."""

from collections.abc import Sequence
from math import ceil, sqrt

import numpy as np

from pipeline.order.safety_stock.bags import SOURCES, Bags
from pipeline.order.safety_stock.volume_model import Floats

__all__ = ["joint_columns", "line_of", "quantile"]


def quantile(ascending: Floats, share: float) -> float:
    """Return the least simulated number that this share of the simulations does not exceed."""
    return float(ascending[_rank(share, len(ascending)) - 1])


def _rank(share: float, count: int) -> int:
    return min(max(ceil(round(share * count, 6)), 1), count)


def line_of(bags: Bags, level: float) -> dict[str, object]:
    """Return the columns of one row but for the joint ones.

    Parameters
    ----------
    bags
        Of one shade, or of several together.
    level
        The service level.
    """
    planned, every = float(bags.planned), np.sort(bags.simulated["all"])
    enough = quantile(every, level)
    # one standard error up and down in rank
    step = sqrt(level * (1 - level) / len(every))

    def beyond(source: str) -> float:
        return max(quantile(np.sort(bags.simulated[source]), level) - planned, 0.0)

    return {
        "cores": float(bags.cores),
        "expected": planned,
        "enough": enough,
        "safety_stock": max(enough - planned, 0.0),
        "error": (quantile(every, level + step) - quantile(every, level - step)) / 2,
        "mean": float(every.mean()),
        **{f"from_{source}": beyond(source) for source in SOURCES},
        # the plan has cores of known size only
        "from_size": 0.0,
        "without_model": beyond("known model"),
        "planned_suffices": float((every <= planned).mean()),
    }


def joint_columns(lines: Sequence[Bags], level: float) -> tuple[float, list[float]]:
    """Return how often all lines suffice at once, and the bags of each line that make it so at the service level.

    Parameters
    ----------
    lines
        The bags of L districts and shades, from the same simulations.
    level
        The service level.

    Returns
    -------
    tuple of float and list of float
        The share of the simulations in which no line runs out if each holds what suffices for it alone; and L numbers
        of bags, at a higher level that is the same for all lines, with which no line runs out in ``level`` of the
        simulations. No line has fewer than planned.
    """
    if not lines:
        return 1.0, []
    every = np.stack([line.simulated["all"] for line in lines])
    planned = np.array([float(line.planned) for line in lines])
    ascending = np.sort(every, axis=1)
    held = np.maximum(ascending[:, _rank(level, every.shape[1]) - 1], planned)
    suffices = (every <= held[:, None]).all(axis=0).mean()
    # the rank that each simulation requires of the line that is worst off in it
    required = np.max(
        [np.searchsorted(sorted_, drawn, side="left") for sorted_, drawn in zip(ascending, every, strict=True)], axis=0
    )
    rank = np.sort(required)[_rank(level, every.shape[1]) - 1]
    return float(suffices), np.maximum(ascending[:, rank], planned).tolist()
