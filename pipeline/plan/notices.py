"""What to report of a plan beside its tables."""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.plan.crews import Bools, Days, Team
from pipeline.plan.due import HAZARD
from pipeline.plan.weather import ALL_DAY_MIN, Curing
from pipeline.wording import counted

__all__ = ["plan_notices"]

_LISTED: Final = 5
# why no crew could do the work at a booked core on its day
_NOT_POSSIBLE: Final = (
    "no crew can do the work then (too cold or warm for grout, plan.no_work, or no crew for its district, surface or "
    "load)"
)


def plan_notices(
    jobs: pd.DataFrame,
    stops: pd.DataFrame,
    teams: list[Team],
    works: Bools,
    days: Days,
    curing: Curing,
    crowded: pd.Index,
    *,
    has_weather: bool,
) -> list[str]:
    """Return the notices about a plan.

    Parameters
    ----------
    jobs
        The jobs: ``core_id``, ``task``, ``urgency``, ``booked_on`` and ``due_on`` (moved where nobody works on it).
    stops
        What is planned.
    teams, works
        The K crews, and K by D: the days on which each works.
    days, curing
        The D days of the plan, and how grout cures on each.
    crowded
        The booked jobs that a crew could do on their day if it had the time.
    has_weather
        Whether the programme has a table of temperatures.
    """
    notices = [
        f'crews "{team.crew.name}": it has no working day in the plan ({days[0]} to {days[-1]}). '
        "Check its days_off, or set a longer plan.horizon."
        for team, at in zip(teams, works, strict=True)
        if not at.any()
    ]
    notices += [
        f'crews "{team.crew.name}": there is no work in its districts, so nothing is planned for it.'
        for team in teams
        if not team.districts and team.origin == "programme"
    ]
    moved = int((jobs["booked_on"].ge(pd.Timestamp(days[0])) & jobs["due_on"].gt(jobs["booked_on"])).sum())
    if moved:
        notices.append(
            f"{counted(moved, 'core')} booked for a day on which no crew works: moved to the next working day. "
            "Inform everyone who was promised the booked day."
        )
    notices += _bookings(jobs, stops, days, crowded)
    permits = stops[stops["needs_permit"]]
    if len(permits):
        notices.append(
            f"{counted(len(permits), 'planned core')}: the permit expires before the planned day. "
            f"Extend it first. {_listed(permits['core_id'])}"
        )
    waiting = jobs[jobs["urgency"].eq(HAZARD) & jobs["booked_on"].gt(pd.Timestamp(days[0]))]
    waiting = waiting[waiting["task"].eq("reinstate")]
    if len(waiting):
        notices.append(
            f"{counted(len(waiting), 'core')} with a hazard booked for a later day: make each safe until then, "
            f"or book an earlier day. {_listed(waiting['core_id'])}"
        )
    return notices + _weather(np.asarray(works.any(axis=0)), days, curing, has_weather=has_weather)


def _bookings(jobs: pd.DataFrame, stops: pd.DataFrame, days: Days, crowded: pd.Index) -> list[str]:
    """Return what to report of booked days within the plan that are not kept, moved ones aside."""
    booked = jobs[jobs["booked_on"].ge(pd.Timestamp(days[0])) & jobs["due_on"].le(pd.Timestamp(days[-1]))]
    broken = booked[~stops["day"].reindex(booked.index).le(booked["due_on"])]
    notices = []
    for cores, why, instead in (
        (broken[broken.index.isin(crowded)], "the crews have no room", ", or set plan.weights.booked higher"),
        (
            broken[~broken.index.isin(crowded)],
            _NOT_POSSIBLE,
            "",
        ),
    ):
        if len(cores):
            theirs = "is not planned for its day" if len(cores) == 1 else "are not planned for their day"
            notices.append(
                f"{counted(len(cores), 'booked core')} of {len(booked):,} {theirs}: {why}. Tell whoever was promised "
                f"the booked day{instead}. {_listed(cores['core_id'])}"
            )
    return notices


def _weather(work_days: Bools, days: Days, curing: Curing, *, has_weather: bool) -> list[str]:
    """Return what to report of the temperatures on days on which somebody works."""
    notices = []
    cold = work_days & ~curing.pours
    if cold.any():
        notices.append(
            f"No grout is planned on {counted(int(cold.sum()), 'working day')}: the air temperature is outside the "
            f"limits of the grout. {_listed(days[cold].astype(str))}"
        )
    shorter = work_days & curing.pours & ((curing.first_min > 0) | (curing.last_min < ALL_DAY_MIN))
    if shorter.any():
        notices.append(
            f"On {counted(int(shorter.sum()), 'working day')} grout is poured only in the hours within its "
            f"temperature limits. {_listed(days[shorter].astype(str))}"
        )
    unknown = work_days & np.array([name == "not known" for name in curing.air_from], dtype=bool)
    if unknown.any() and has_weather:
        notices.append(
            f"No temperatures on {int(unknown.sum())} of {counted(int(work_days.sum()), 'working day')}: "
            "the supplier's time to traffic is used there. Check the dates of the forecast, or add "
            "weather.seasonal for the days after it."
        )
    return notices


def _listed(names: object) -> str:
    """Return the first of several names, and how many more there are."""
    every = [str(name) for name in names]  # type: ignore[attr-defined]  # a column or an array
    more = f" and {len(every) - _LISTED:,} more" if len(every) > _LISTED else ""
    return f"{', '.join(every[:_LISTED])}{more}."
