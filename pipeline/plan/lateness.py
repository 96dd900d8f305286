"""What each day costs in lateness, worked out as it is asked for: the table of all jobs by all days is large."""

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.plan.crews import Days
from pipeline.plan.travel import Floats

__all__ = ["Late", "Lateness", "lateness_among", "lateness_of"]

_FAR_DUE: Final = np.timedelta64(10_000, "D")


@dataclass(frozen=True)
class Lateness:
    """Minutes that each of D days costs at each of N jobs, read as the table of N by D would be.

    ``late[jobs]`` has a row for each of some jobs, ``late[jobs, days]`` a number for each job and the day beside it.
    ``due``: N days. ``weight``: N minutes for each day after it. ``days``: D.
    """

    due: npt.NDArray[np.datetime64]
    weight: Floats
    days: Days

    def __len__(self) -> int:
        """Return the number of jobs."""
        return len(self.due)

    @property
    def shape(self) -> tuple[int, int]:
        """The numbers of jobs and of days."""
        return len(self.due), len(self.days)

    def __getitem__(self, asked: Any) -> Floats:  # noqa: ANN401 - as an array may be asked
        """Return the minutes of some jobs on all days, or on the days beside them."""
        if isinstance(asked, tuple):
            jobs, days = asked
            due, weight, on = self.due[jobs], self.weight[jobs], self.days[days]
        else:
            due, weight, on = self.due[asked][:, None], self.weight[asked][:, None], self.days[None, :]
        late: Floats = np.maximum((on - due).astype("timedelta64[D]").astype(float), 0.0) * weight
        return late


Late = Floats | Lateness


def lateness_among(late: Late, jobs: npt.NDArray[np.integer]) -> Late:
    """Return what each day costs at some of the jobs."""
    return replace(late, due=late.due[jobs], weight=late.weight[jobs]) if isinstance(late, Lateness) else late[jobs]


def lateness_of(jobs: pd.DataFrame, days: Days) -> Lateness:
    """Return what each day costs in lateness: the weight of the job for each day after the one it is due on."""
    due = jobs["due_on"].to_numpy().astype("datetime64[D]")
    return Lateness(np.where(np.isnat(due), days[-1] + _FAR_DUE, due), jobs["weight"].to_numpy(float), days)
