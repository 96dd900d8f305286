"""The crews in force, the days on which each of them works, and where their days begin."""

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.programme.names import as_known
from pipeline.programme.orders import Ordering
from pipeline.programme.plan import WEEKDAYS, Crew
from pipeline.workdays import holiday_days

__all__ = ["BREAK_MIN", "Bools", "Days", "Team", "horizon", "shift_of", "teams_of", "working"]

Days = npt.NDArray[np.datetime64]
Bools = npt.NDArray[np.bool_]
# our default, where a crew states no break
BREAK_MIN: Final = 30.0


class Team(NamedTuple):
    """A crew in force: its settings, the districts it serves, its yard, and its start in metres of the run's CRS.

    ``starts_from``: the yard, where its position is known; else the middle of the cores it may serve. ``place``: number
    of its start among the places of the plan, which are the jobs and then the starts.
    """

    crew: Crew
    districts: tuple[str, ...]
    yard: str
    start: tuple[float, float]
    starts_from: str
    origin: str
    place: int


def horizon(start: dt.date | None, as_of: dt.date, days: float) -> Days:
    """Return the days of the plan: from ``start``, or else from the day after the audit."""
    first = np.datetime64(start or as_of + dt.timedelta(days=1), "D")
    return first + np.arange(int(days))


def shift_of(crews: Sequence[Crew]) -> tuple[float, float]:
    """Return from when to when anybody works, minutes from midnight; by our default where no crew is stated."""
    shifts = [crew.shift for crew in crews] or [Crew(name="default").shift]
    return float(min(start for start, _ in shifts)), float(max(end for _, end in shifts))


def working(crew: Crew, days: Days, region: str | None) -> Bools:
    """Return on which days a crew works: not on its days off, nor on a public holiday."""
    free = {day for day in crew.days_off if isinstance(day, str)}
    dates = np.array([day for day in crew.days_off if isinstance(day, dt.date)], dtype="datetime64[D]")
    years = days.astype("datetime64[Y]").astype(int) + 1970
    closed = np.concatenate([holiday_days(region, (int(years.min()), int(years.max()))), dates])
    mask = [name not in free for name in WEEKDAYS]
    return np.is_busday(days, weekmask=mask, holidays=closed) if any(mask) else np.zeros(len(days), dtype=bool)


def teams_of(
    crews: Iterable[Crew], jobs: pd.DataFrame, ordering: Ordering, yards: dict[str, tuple[float, float]]
) -> list[Team]:
    """Return the crews in force; without any stated, one crew for each district with work.

    Parameters
    ----------
    crews
        The programme's crews.
    jobs
        Cores to visit: ``district``, ``x_m``, ``y_m``.
    ordering
        Which yard supplies which district.
    yards
        Positions of yards in metres of the run's CRS.
    """
    every = sorted(set(jobs["district"]))
    stated = [(crew, "programme") for crew in crews] or [
        (Crew(name=f"{district} crew", districts=[district]), "default") for district in every
    ]
    teams: list[Team] = []
    for crew, origin in stated:
        mine = tuple(name for name in every if not crew.districts or as_known(name, crew.districts) is not None)
        yard = crew.yard or ordering.yard_of(mine[0] if mine else (crew.districts or [""])[0])
        key = as_known(yard, yards)
        around = jobs[jobs["district"].isin(mine)] if mine else jobs
        middle = (float(around["x_m"].median()), float(around["y_m"].median()))
        start, starts_from = (middle, "middle of its cores") if key is None else (yards[key], yard)
        teams.append(Team(crew, mine, yard, start, starts_from, origin, len(jobs) + len(teams)))
    return teams
