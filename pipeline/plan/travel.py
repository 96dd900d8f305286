"""Distances between cores."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

__all__ = ["Floats", "Ints", "Travel"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


class Travel(NamedTuple):
    """Distances between points in metres of the run's CRS: the straight line times a detour factor."""

    detour: float

    def metres(self, origins: Floats, destinations: Floats) -> Floats:
        """Return the distances from N to M points (rows of x, y), N by M metres."""
        apart = origins[:, None, :] - destinations[None, :, :]
        return np.hypot(apart[..., 0], apart[..., 1]) * self.detour
