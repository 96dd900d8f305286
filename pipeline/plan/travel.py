"""Distances between the places of the plan: its jobs, then the starts of its crews."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

__all__ = ["Floats", "Ints", "Travel"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


class Travel(NamedTuple):
    """Distances between places, by their numbers: the straight line times a detour factor.

    ``xy``: P by 2, where the places lie, in metres of the run's CRS.
    """

    xy: Floats
    detour: float

    def metres(self, origins: Ints, destinations: Ints) -> Floats:
        """Return the distances from N to M places, given by their numbers, N by M metres."""
        apart = self.xy[origins][:, None, :] - self.xy[destinations][None, :, :]
        return np.hypot(apart[..., 0], apart[..., 1]) * self.detour
