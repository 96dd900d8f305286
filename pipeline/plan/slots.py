"""Which crew may do which job on which day, as bits."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.plan.crews import Bools, Team
from pipeline.plan.travel import Ints

__all__ = ["Bits", "Slots", "able_crews", "slots_of"]

Bits = npt.NDArray[np.uint8]


class Slots(NamedTuple):
    """``bits``: one row per job, one bit for each day and, within the day, for each of ``crews`` crews."""

    bits: Bits
    crews: int

    def of(self, jobs: Ints) -> "Slots":
        """Return those of some of the jobs."""
        return self._replace(bits=self.bits[jobs])

    def first_days(self, bits: Bits) -> Ints:
        """Return the number of the first day in each row of bits; 0 where there is none."""
        days: Ints = np.unpackbits(bits, axis=1).argmax(axis=1) // max(self.crews, 1)
        return days


def able_crews(jobs: pd.DataFrame, teams: list[Team]) -> Bools:
    """Return N by K: which crew serves the district of each job and works in its surface."""
    pairs = pd.MultiIndex.from_frame(jobs[["district", "surface"]])
    number, kinds = pairs.factorize()
    able = [
        [district in team.districts and (not team.crew.surfaces or surface in team.crew.surfaces) for team in teams]
        for district, surface in kinds
    ]
    found: Bools = np.array(able, dtype=bool).reshape(len(kinds), len(teams))[number]
    return found


def slots_of(able: Bools, allowed: Bools, works: Bools) -> Slots:
    """Return which of K crews may do which of N jobs on which of D days.

    ``able``: N by K, the crews for each job. ``allowed``: N by D. ``works``: K by D, the days on which each crew works.
    """
    crews = able.shape[1]
    packed = np.packbits(able, axis=1)
    days = np.packbits(allowed, axis=1)
    kinds, kind_of = np.unique(np.hstack([days, packed]), axis=0, return_inverse=True)
    day = np.unpackbits(kinds[:, : days.shape[1]], axis=1, count=allowed.shape[1]).astype(bool)
    crew = np.unpackbits(kinds[:, days.shape[1] :], axis=1, count=crews).astype(bool)
    slots = day[:, :, None] & crew[:, None, :] & works.T[None, :, :]
    return Slots(
        np.packbits(slots.reshape(len(kinds), slots.shape[1] * slots.shape[2]), axis=1)[kind_of.reshape(-1)], crews
    )
