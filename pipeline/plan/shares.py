"""A plan in shares: the crews that share districts and the jobs there, which depend on nothing else."""

from collections.abc import Callable
from functools import partial
from typing import Any, Final, NamedTuple, TypeVar

import numpy as np
import pandas as pd

from pipeline.engines import HERE, Engine
from pipeline.engines.engine import Work
from pipeline.plan.crews import Bools, Days, Team
from pipeline.plan.lateness import Late, lateness_among
from pipeline.plan.minutes import MINUTE_COLUMNS
from pipeline.plan.mixes import MixRules
from pipeline.plan.travel import Floats, Ints, Travel

__all__ = ["Planned", "Shared", "each_share"]

# the work on a share reads no other columns of the jobs
_READ: Final = ("task", "district", "surface", "shade", "net_bags", "gravel_kg", "x_m", "y_m", *MINUTE_COLUMNS)
# how wide the roads around a share are cut that is sent elsewhere: as paths are looked for at first, and then
_WIDER: Final = (1.0, 4.0)
# a node takes about 150 bytes with its edges: no worker holds more of the road network than this, however large it is
_MOST_NODES: Final = 100_000

# the crews of a share, and its jobs, as numbers of the whole plan in ascending order
Shared = tuple[list[int], Ints]
_Thing = TypeVar("_Thing")
_Made = TypeVar("_Made")


class Planned(NamedTuple):
    """What was to be planned, and by what rules: N jobs, D days, K crews.

    ``jobs``: with their minutes, ``place``, ``district``, ``surface``, ``shade`` and ``net_bags``. ``allowed``,
    ``late``: N by D, whether a job may be done on a day, and the minutes that lateness costs then. ``works``: K by D.
    ``wait_min``: D minutes to traffic; NaN where a crew does not wait.
    """

    jobs: pd.DataFrame
    allowed: Bools
    late: Late
    teams: list[Team]
    works: Bools
    days: Days
    wait_min: Floats
    travel: Travel
    rules: MixRules

    def __reduce__(self) -> tuple[Callable[[dict[str, Any]], "Planned"], tuple[dict[str, Any]]]:
        """Send the days of a job as bits."""
        return _received, ({**self._asdict(), "allowed": np.packbits(self.allowed, axis=1)},)

    def share(self, shared: Shared, wider: float | None) -> "Planned":
        """Return the share of some crews, with its jobs, crews and places numbered from 0 in the order that they had.

        ``wider``: with the part of the road network around them, see ``Travel.only``; None: with the whole.
        """
        together, here = shared
        mine = self.jobs.iloc[here]
        return Planned(
            mine[[name for name in _READ if name in mine]].reset_index(drop=True).assign(place=np.arange(len(here))),
            self.allowed[here],
            lateness_among(self.late, here),
            [self.teams[at]._replace(place=len(here) + number) for number, at in enumerate(together)],
            self.works[together],
            self.days,
            self.wait_min,
            self.travel.only(self._places(shared), wider),
            self.rules,
        )

    def can_be_sent(self, shared: Shared, wider: float) -> bool:
        """Return whether the part of the road network around some crews is small enough to be sent."""
        return self.travel.nodes_around(self._places(shared), wider) <= _MOST_NODES

    def _places(self, shared: Shared) -> Ints:
        together, here = shared
        starts = np.array([self.teams[at].place for at in together], dtype=np.int64)
        return np.concatenate([self.jobs["place"].to_numpy(np.int64)[here], starts])


def _received(sent: dict[str, Any]) -> Planned:
    allowed = np.unpackbits(sent["allowed"], axis=1, count=len(sent["days"])).view(bool)
    return Planned(**{**sent, "allowed": allowed})


def each_share(
    engine: Engine,
    work: Work[_Thing, _Made | None],
    every: list[Shared],
    whole: Callable[[int], Planned],
    share: Callable[[int, Planned], _Thing],
    told: Callable[[int, int], None],
) -> list[_Made]:
    """Return what some work makes of each share.

    Where an engine sends shares elsewhere, they go with the roads around them, and with more where these do not do. A
    share that needs still more is worked on here, where all roads are.

    Parameters
    ----------
    engine
        Does the work.
    work
        A function of a module. It returns None where a path may lead out of the roads that it is given.
    every
        Whose shares.
    whole
        Returns the plan that the share of a number is taken from.
    share
        Returns what the work is given, made of the share of a number.
    told
        Is told the number of a share, and how many of its jobs are done.
    """
    found: dict[int, _Made] = {}
    for by, wider in _turns(engine):
        left = [at for at in range(len(every)) if at not in found]
        if wider is not None:
            left = [at for at in left if whole(at).can_be_sent(every[at], wider)]
        if not left:
            continue
        made = by.each(
            work,
            (share(at, whole(at).share(every[at], wider)) for at in left),
            [len(every[at][1]) for at in left],
            partial(_told, told, left),
        )
        found |= {at: one for at, one in zip(left, made, strict=True) if one is not None}
    return [found[at] for at in range(len(every))]


def _turns(engine: Engine) -> list[tuple[Engine, float | None]]:
    """Return what does the work first and what does the rest, and how wide the roads are cut for each."""
    return [*((engine, wider) for wider in _WIDER), (HERE, None)] if engine.sends else [(engine, None)]


def _told(told: Callable[[int, int], None], left: list[int], part: int, done: int) -> None:
    told(left[part], done)
