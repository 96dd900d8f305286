"""By when each job is due, what sets that day, and what a day late is worth."""

from typing import Final

import numpy as np
import pandas as pd

from pipeline.plan.crews import Bools, Days
from pipeline.programme.plan import LatenessWeights
from pipeline.programme.plan_defaults import Weights

__all__ = ["HAZARD", "day_of", "due_days", "lateness_weights", "moved_to_working_days", "weights_in_force"]

HAZARD: Final = "hazard"
_OVERDUE: Final = "overdue"
_DAYS_OF_YEAR: Final = 365.0


def day_of(instants: pd.Series) -> pd.Series:
    """Return the days of instants in their own time zone."""
    day: pd.Series = instants.dt.tz_localize(None).dt.normalize()
    return day


def due_days(jobs: pd.DataFrame, first: pd.Timestamp) -> tuple[pd.Series, pd.Series]:
    """Return the day by which each job is due, and what sets it.

    A hazard that is only made safe is due on the first day of the plan, since the other days are for putting the core
    back. Elsewhere a booked day alone counts where there is one. Otherwise the first of these: the last day of the
    permit, the last day that the rules let a core be open, the day before planned works, and for a hazard the first day
    of the plan.

    Parameters
    ----------
    jobs
        N rows: ``permit_expires_on``, ``opened_on``, ``allowed_days``, ``resurfacing_due_on``, ``planned_on``,
        ``urgency``, ``task``.
    first
        The first day of the plan.
    """
    day = pd.Timedelta(days=1)
    dates = pd.DataFrame(
        {
            "permit": day_of(jobs["permit_expires_on"]),
            "opened": day_of(jobs["opened_on"]) + jobs["allowed_days"] * day,
            "planned works": day_of(jobs["resurfacing_due_on"]) - day,
            HAZARD: pd.Series(first, jobs.index).where(jobs["urgency"].eq(HAZARD)),
        },
        index=jobs.index,
    )
    to_reinstate = jobs["task"].ne("make safe")
    for name in ("permit", "opened", "planned works"):
        dates[name] = dates[name].where(to_reinstate)
    due = dates.min(axis="columns")
    by = pd.Series("none", jobs.index, dtype="str")
    for name in reversed(dates.columns):
        by = by.mask(dates[name].notna() & dates[name].eq(due), name)
    booked = day_of(jobs["planned_on"]).where(to_reinstate)
    return due.where(booked.isna(), booked), by.mask(booked.notna(), "booked")


def moved_to_working_days(jobs: pd.DataFrame, fits: Bools, works: Bools, days: Days) -> pd.Series:
    """Return the due days, with booked days and hazards moved to the next day on which a crew works that may do them.

    Parameters
    ----------
    jobs
        N rows: ``due_on``, ``due_by``.
    fits, works
        N by K, which crew may do which job, and K by D, on which days each works.
    days
        The D days of the plan.
    """
    due = jobs["due_on"].copy()
    place = (due.to_numpy().astype("datetime64[D]") - days[0]).astype(float)
    movable = jobs["due_by"].isin(["booked", HAZARD]).to_numpy() & (place >= 0) & (place < len(days))
    at = np.flatnonzero(movable & fits.any(axis=1))
    if not len(at):
        return due
    open_days = fits[at].astype(np.float32) @ works.astype(np.float32) > 0
    numbers = np.where(open_days, np.arange(len(days)), len(days))
    following = np.minimum.accumulate(numbers[:, ::-1], axis=1)[:, ::-1]
    own = place[at].astype(int)
    to = following[np.arange(len(at)), own]
    is_moved = (to > own) & (to < len(days))
    due.iloc[at[is_moved]] = days[to[is_moved]].astype("datetime64[us]")
    return due


def weights_in_force(stated: LatenessWeights, defaults: Weights) -> Weights:
    """Return the weights of the programme, and our defaults where it states none."""
    own = {name: value for name, value in stated.model_dump(exclude={"road_class"}).items() if value is not None}
    classes = {**defaults.road_class, **stated.road_class}
    return defaults.model_copy(update={**own, "road_class": classes})


def lateness_weights(jobs: pd.DataFrame, due_on: pd.Series, as_of: pd.Timestamp, weights: Weights) -> pd.Series:
    """Return what a day late is worth, in minutes of a crew's work: more on large roads and the longer it is overdue.

    Parameters
    ----------
    jobs
        N rows: ``urgency``, ``planned_on``, ``road_class``.
    due_on
        The day by which each is due, or missing.
    as_of
        The day of the audit.
    weights
        The weights in force.
    """
    is_overdue = jobs["urgency"].eq(_OVERDUE) | due_on.lt(as_of)
    base = np.select([jobs["urgency"].eq(HAZARD), is_overdue], [weights.hazard, weights.overdue], default=weights.usual)
    base = np.where(jobs["planned_on"].notna(), np.maximum(base, weights.booked), base)
    years = (as_of - due_on).dt.days.clip(lower=0, upper=_DAYS_OF_YEAR).fillna(0) / _DAYS_OF_YEAR
    by_class = jobs["road_class"].map(weights.road_class).astype(float).fillna(1.0)
    result: pd.Series = base * by_class * (1 + (weights.after_a_year - 1) * years)
    return result
