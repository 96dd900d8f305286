"""The crews in force, the days on which each of them works, and where their days begin."""

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.programme.names import as_known
from pipeline.programme.orders import Ordering
from pipeline.programme.plan import WEEKDAYS, Crew
from pipeline.workdays import Calendar, holiday_days

__all__ = ["Bools", "Days", "Team", "crew_table", "horizon", "shift_of", "teams_of", "with_hours", "working"]

Days = npt.NDArray[np.datetime64]
Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]


class Team(NamedTuple):
    """A crew in force: its settings, the districts it serves, its yard, and its start in metres of the run's CRS.

    ``starts_from``: the yard, where its position is known; else the middle of the cores it may serve. ``place``: number
    of its start among the places of the plan, which are the jobs and then the starts. ``hours``: D by 2, from when to
    when it works on each day, minutes from midnight; None: its shift on every day.
    """

    crew: Crew
    districts: tuple[str, ...]
    yard: str
    start: tuple[float, float]
    starts_from: str
    origin: str
    place: int
    hours: Floats | None = None

    def hours_on(self, day: int) -> tuple[float, float]:
        """Return from when to when the crew works on a day of the plan, minutes from midnight."""
        start, end = self.crew.shift if self.hours is None else self.hours[day].tolist()
        return float(start), float(end)


def with_hours(team: Team, first_min: Floats, last_min: Floats) -> Team:
    """Return a crew that begins no earlier and ends no later than on D days the weather allows."""
    start, end = team.crew.shift
    begin = np.clip(first_min, start, end)
    return team._replace(hours=np.column_stack([begin, np.clip(last_min, begin, end)]))


def horizon(first: dt.date, days: float) -> Days:
    """Return the days of the plan, from its first."""
    return np.datetime64(first, "D") + np.arange(int(days))


def shift_of(crews: Sequence[Crew]) -> tuple[float, float]:
    """Return from when to when anybody works, minutes from midnight; by our default where no crew is stated."""
    shifts = [crew.shift for crew in crews] or [Crew(name="default").shift]
    return float(min(start for start, _ in shifts)), float(max(end for _, end in shifts))


def working(crew: Crew, days: Days, calendar: Calendar | None) -> Bools:
    """Return on which days a crew works: not on its days off, nor on a public holiday."""
    free = {day for day in crew.days_off if isinstance(day, str)}
    dates = np.array([day for day in crew.days_off if isinstance(day, dt.date)], dtype="datetime64[D]")
    years = days.astype("datetime64[Y]").astype(int) + 1970
    closed = np.concatenate([holiday_days(calendar, (int(years.min()), int(years.max()))), dates])
    mask = [name not in free for name in WEEKDAYS]
    return np.is_busday(days, weekmask=mask, holidays=closed) if any(mask) else np.zeros(len(days), dtype=bool)


def teams_of(
    crews: Iterable[Crew],
    jobs: pd.DataFrame,
    ordering: Ordering,
    yards: dict[str, tuple[float, float]],
    break_min: float,
) -> list[Team]:
    """Return the crews in force; without any stated, one crew for each district with work.

    Parameters
    ----------
    crews
        The programme's crews.
    jobs
        Cores to visit: ``district``, ``surface``, ``x_m``, ``y_m``.
    ordering
        Which yard supplies which district.
    yards
        Positions of yards in metres of the run's CRS.
    break_min
        The break of crews that state none.
    """
    every = sorted(set(jobs["district"]))
    surfaces = sorted(set(jobs["surface"].dropna()))
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
        own = {
            "break_min": break_min if crew.break_min is None else crew.break_min,
            # as the catalogue spells them
            "surfaces": [as_known(name, surfaces) or name for name in crew.surfaces],
        }
        place = len(jobs) + len(teams)
        teams.append(Team(crew.model_copy(update=own), mine, yard, start, starts_from, origin, place))
    return teams


def crew_table(teams: list[Team], works: Bools, lon: Floats, lat: Floats) -> pd.DataFrame:
    """Return the table of the crews; ``lon`` and ``lat``: where each starts, in degrees."""
    crews = [team.crew for team in teams]
    return pd.DataFrame(
        {
            "crew": [crew.name for crew in crews],
            "districts": ["; ".join(team.districts) for team in teams],
            "yard": [team.yard for team in teams],
            "lon": lon,
            "lat": lat,
            "starts_from": [team.starts_from for team in teams],
            "shift_start_min": [float(crew.shift[0]) for crew in crews],
            "shift_end_min": [float(crew.shift[1]) for crew in crews],
            "break_min": [crew.break_min for crew in crews],
            "surfaces": ["; ".join(crew.surfaces) for crew in crews],
            "carries_kg": [crew.carries_kg for crew in crews],
            "work_days": works.sum(axis=1),
            "origin": [team.origin for team in teams],
        }
    )
