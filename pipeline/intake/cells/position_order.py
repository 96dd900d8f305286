"""The order of two numbers in one cell: from the cell, the setting, the numbers, or where the positions lie."""

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.intake.cells.coordinates import Coordinates
from pipeline.wording import counted

__all__ = ["ORDERS", "Settled", "in_order", "settle_order"]

# the settings, and the order that each means
ORDERS: Final = {"lat lon": "y x", "y x": "y x", "lon lat": "x y", "x y": "x y"}
# an order is settled if no more than this share of the cells contradicts it
_CONTRADICTING: Final = 0.05

_Near = Callable[[npt.NDArray[np.float64], npt.NDArray[np.float64]], npt.NDArray[np.bool_]]


class Settled(NamedTuple):
    """The order of a register's cells: "x y" or "y x", and what settled it; None where both are possible."""

    order: str | None
    reason: str


def settle_order(
    first: Coordinates, second: Coordinates, is_open: npt.NDArray[np.bool_], near: _Near, *, is_degrees: bool
) -> Settled:
    """Return the order of the cells that do not show it themselves, from the register as a whole.

    Parameters
    ----------
    first, second
        The numbers of N cells, in the order in which they are written.
    is_open
        N rows: the cell does not say its order.
    near
        Which of N positions, given as x and y, lie near the roads.
    is_degrees
        The numbers are angles, so that one beyond 90 cannot be a latitude.
    """
    a, b = first.value[is_open], second.value[is_open]
    read = np.isfinite(a) & np.isfinite(b)
    total = int(read.sum())
    if is_degrees:
        votes = {"y x": int((read & (np.abs(b) > 90)).sum()), "x y": int((read & (np.abs(a) > 90)).sum())}
        if order := _clear(votes):
            which = "second" if order == "y x" else "first"
            return Settled(
                order, f"in {votes[order]:,} of {counted(total, 'cell')} the {which} number cannot be a latitude"
            )
    votes = {"y x": int(near(b, a).sum()), "x y": int(near(a, b).sum())}
    if order := _clear(votes):
        return Settled(order, f"in this order the roads are near {votes[order]:,} of {counted(total, 'position')}")
    if any(votes.values()):
        return Settled(None, "both orders give positions near the roads")
    # nothing lies near the roads, whatever the order: what is wrong is something else
    return Settled("y x" if is_degrees else "x y", "")


def _clear(votes: dict[str, int]) -> str | None:
    """Return the order that nearly all votes are for; None where there is none."""
    order = max(votes, key=lambda name: votes[name])
    return order if votes[order] and min(votes.values()) <= _CONTRADICTING * sum(votes.values()) else None


def in_order(first: Coordinates, second: Coordinates, order: pd.Series) -> tuple[Coordinates, Coordinates]:
    """Return the x and the y of N cells whose numbers are in the order "x y" or "y x"."""
    is_across = order.eq("x y").to_numpy()

    def picked(here: Coordinates, there: Coordinates) -> Coordinates:
        return Coordinates(
            np.where(is_across, here.value, there.value),
            here.form.where(is_across, there.form),
            *(np.where(is_across, getattr(here, name), getattr(there, name)) for name in ("step", "decimals", "zeros")),
        )

    return picked(first, second), picked(second, first)
