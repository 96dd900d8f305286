"""The jobs of the plan: which cores a crew has to visit, what for, when and how urgently."""

import datetime as dt
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import NO_DISTRICT
from pipeline.plan.crews import Bools, Days
from pipeline.plan.due import HAZARD, day_of, due_days, lateness_weights
from pipeline.programme.names import folded
from pipeline.programme.plan import WEEKDAYS, NoWork
from pipeline.programme.plan_defaults import Weights

__all__ = ["MAKE_SAFE", "REINSTATE", "SURVEY", "Jobs", "closed_days", "jobs_of"]

REINSTATE: Final = "reinstate"
SURVEY: Final = "survey"
MAKE_SAFE: Final = "make safe"

_OTHER_METHOD: Final = "reinstatement by another method"
_TAKEN: Final = ("row", "core_id", "task", "surface", "shade", "is_rigid", "hole_mm", "x_m", "y_m")


class Jobs(NamedTuple):
    """The jobs, N rows on the index of the cores, and ``allowed``: N by D, on which days each may be done.

    Columns: ``row``, ``core_id``, ``task``, ``district``, ``surface``, ``shade``, ``net_bags``, ``gravel_kg``,
    ``is_rigid``, ``hole_mm``, ``x_m``, ``y_m``, ``urgency``, ``due_on``, ``due_by``, ``booked_on``, ``permit_until``,
    ``weight`` (minutes per day late), ``place`` (number among the places of the plan).
    ``left_out``: the open cores that no crew can do anything about by the plan, with ``reason`` and ``remedy``.
    """

    frame: pd.DataFrame
    allowed: Bools
    left_out: pd.DataFrame


def jobs_of(
    cores: pd.DataFrame, days: Days, pours: Bools, no_work: list[NoWork], weights: Weights, as_of: pd.Timestamp
) -> Jobs:
    """Return the jobs of a plan.

    Parameters
    ----------
    cores
        N rows, each core once: the columns of the contract, with ``allowed_days``.
    days
        The D days of the horizon.
    pours
        On which of them grout may be poured.
    no_work
        When no work may be done in some streets.
    weights
        What a day late is worth.
    as_of
        The day of the audit.
    """
    task = _tasks(cores)
    jobs = cores[task.ne("")].assign(task=task[task.ne("")])
    placed = jobs["x_m"].notna()
    lost = jobs[~placed]
    unsuitable = cores[cores["is_open"] & task.eq("")]
    thin, other = unsuitable[unsuitable["is_thin"]], unsuitable[~unsuitable["is_thin"]]
    left_out = pd.concat(
        [
            _left(lost, "no position", "coordinates that can be read"),
            _left(thin, "pavement too thin for core reinstatement", _OTHER_METHOD),
            _left(other, "surface not suitable for core reinstatement", _OTHER_METHOD),
        ]
    )
    jobs = jobs[placed]
    due_on, due_by = due_days(jobs, pd.Timestamp(days[0]))
    frame = pd.DataFrame(
        {
            **{name: jobs[name] for name in _TAKEN},
            "district": jobs["district"].fillna(NO_DISTRICT),
            "net_bags": jobs["bags"].where(jobs["task"].eq(REINSTATE)),
            "gravel_kg": jobs["gravel_kg"].where(jobs["task"].eq(REINSTATE)),
            "urgency": jobs["urgency"],
            "due_on": due_on,
            "due_by": due_by,
            "booked_on": day_of(jobs["planned_on"]).where(jobs["task"].eq(REINSTATE)),
            "permit_until": day_of(jobs["permit_expires_on"]),
            "weight": lateness_weights(jobs, due_on, as_of, weights),
            "place": np.arange(len(jobs)),
        }
    )
    return Jobs(frame, _allowed(frame, jobs, days, pours, no_work), left_out)


def _tasks(cores: pd.DataFrame) -> pd.Series:
    """Return what is to be done at each core; empty for nothing."""
    is_open = cores["is_open"]
    unknown = cores["surface"].eq("unknown") | cores["hole_mm"].isna() | cores["depth_believed_mm"].isna()
    able = cores["reinstatable"] & ~cores["is_thin"]
    return pd.Series(
        np.select(
            [
                is_open & cores["bags"].notna(),
                is_open & unknown & ~cores["is_thin"] & (cores["surface"].eq("unknown") | able),
                cores["urgency"].eq(HAZARD),
            ],
            [REINSTATE, SURVEY, MAKE_SAFE],
            "",
        ),
        cores.index,
        dtype="str",
    )


def _left(cores: pd.DataFrame, reason: str, remedy: str) -> pd.DataFrame:
    own = cores.get("task", REINSTATE)
    return cores[["row", "core_id", "bags"]].assign(
        district=cores["district"].fillna(NO_DISTRICT), task=own, reason=reason, remedy=remedy
    )


def _allowed(frame: pd.DataFrame, jobs: pd.DataFrame, days: Days, pours: Bools, no_work: list[NoWork]) -> Bools:
    allowed = np.ones((len(frame), len(days)), dtype=bool)
    allowed[frame["task"].eq(REINSTATE).to_numpy()] &= pours
    # a booked day is not brought forward; a survey and what makes a core safe need not wait for it
    booked = frame["booked_on"].to_numpy().astype("datetime64[D]")
    allowed[~np.isnat(booked)] &= days >= booked[~np.isnat(booked), None]
    for closed in no_work:
        at = np.ones(len(jobs), dtype=bool)
        for name, wanted in closed.scope.items():
            # where there is no district it has the name that a crew may state
            names = frame["district"] if name == "district" else jobs["street_matched" if name == "street" else name]
            at &= names.map(folded, na_action="ignore").eq(folded(wanted)).to_numpy()
        allowed[np.ix_(at, closed_days(closed, days))] = False
    return allowed


def closed_days(closed: NoWork, days: Days) -> Bools:
    """Return on which days no work may be done: from the first to the last, of these the weekdays and dates named."""
    when = np.ones(len(days), dtype=bool)
    if closed.first is not None:
        when &= days >= np.datetime64(closed.first)
    if closed.last is not None:
        when &= days <= np.datetime64(closed.last)
    if closed.weekdays:
        # 1 January 1970 was a Thursday
        weekday = (days.astype("datetime64[D]").astype(int) + 3) % len(WEEKDAYS)
        numbers = [WEEKDAYS.index(name) for name in closed.weekdays if isinstance(name, str)]
        dates = [np.datetime64(day) for day in closed.weekdays if isinstance(day, dt.date)]
        when &= np.isin(weekday, numbers) | np.isin(days, np.array(dates, dtype="datetime64[D]"))
    return when
