"""The jobs of the plan: which cores a crew has to visit, what for, when and how urgently."""

from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from pipeline.contracts import NO_DISTRICT
from pipeline.plan.crews import Bools, Days
from pipeline.programme.names import folded
from pipeline.programme.plan import WEEKDAYS, NoWork

__all__ = ["HAZARD", "REINSTATE", "SURVEY", "Jobs", "jobs_of"]

REINSTATE: Final = "reinstate"
SURVEY: Final = "survey"
MAKE_SAFE: Final = "make safe"
HAZARD: Final = "hazard"
# what a day late costs, in minutes of a crew's work: our default
_WEIGHTS: Final = {HAZARD: 240.0, "overdue": 60.0}
_USUAL_WEIGHT: Final = 20.0
_BOOKED_WEIGHT: Final = 120.0
# roads where an open core is worse: our default
_CLASS_FACTORS: Final = {"motorway": 2.0, "main": 1.6, "secondary": 1.3}

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


def jobs_of(cores: pd.DataFrame, days: Days, pours: Bools, no_work: list[NoWork], as_of: pd.Timestamp) -> Jobs:
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
    as_of
        The day of the audit.
    """
    task = _tasks(cores)
    jobs = cores[task.ne("")].assign(task=task[task.ne("")])
    placed = jobs["x_m"].notna()
    lost = jobs[~placed]
    unsuitable = cores[cores["is_open"] & task.eq("")]
    left_out = pd.concat(
        [
            _left(lost, "no position", "a position that can be found"),
            _left(
                unsuitable[unsuitable["is_thin"]],
                "pavement too thin for core reinstatement",
                "reinstatement by another method",
            ),
            _left(
                unsuitable[~unsuitable["is_thin"]],
                "surface not suitable for core reinstatement",
                "reinstatement by another method",
            ),
        ]
    )
    jobs = jobs[placed]
    due_on, due_by = _due(jobs)
    frame = pd.DataFrame(
        {
            **{name: jobs[name] for name in _TAKEN},
            "district": jobs["district"].fillna(NO_DISTRICT),
            "net_bags": jobs["bags"].where(jobs["task"].eq(REINSTATE)),
            "gravel_kg": jobs["gravel_kg"].where(jobs["task"].eq(REINSTATE)),
            "urgency": jobs["urgency"],
            "due_on": due_on,
            "due_by": due_by,
            "booked_on": _day(jobs["planned_on"]),
            "permit_until": _day(jobs["permit_expires_on"]),
            "weight": _weights(jobs, due_on, as_of),
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
    return cores[["row", "core_id", "bags"]].assign(
        district=cores["district"].fillna(NO_DISTRICT), reason=reason, remedy=remedy
    )


def _day(instants: pd.Series) -> pd.Series:
    day: pd.Series = instants.dt.tz_localize(None).dt.normalize()
    return day


def _due(jobs: pd.DataFrame) -> tuple[pd.Series, pd.Series]:
    """Return the day by which each job is due, and what sets it: the first of all that apply, a booked day alone."""
    day = pd.Timedelta(days=1)
    dates = pd.DataFrame(
        {
            "permit": _day(jobs["permit_expires_on"]),
            "opened": _day(jobs["opened_on"]) + jobs["allowed_days"] * day,
            "planned works": _day(jobs["resurfacing_due_on"]) - day,
        },
        index=jobs.index,
    )
    due = dates.min(axis="columns")
    by = pd.Series("none", jobs.index, dtype="str")
    for name in reversed(dates.columns):
        by = by.mask(dates[name].notna() & dates[name].eq(due), name)
    booked = _day(jobs["planned_on"])
    return due.where(booked.isna(), booked), by.mask(booked.notna(), "booked")


def _weights(jobs: pd.DataFrame, due_on: pd.Series, as_of: pd.Timestamp) -> pd.Series:
    """Return what a day late costs: by urgency, more on large roads and the longer it is overdue."""
    base = jobs["urgency"].map(_WEIGHTS).astype(float).fillna(_USUAL_WEIGHT)
    base = base.mask(jobs["planned_on"].notna(), base.clip(lower=_BOOKED_WEIGHT))
    overdue = (as_of - due_on).dt.days.clip(lower=0, upper=365).fillna(0)
    weights: pd.Series = base * jobs["road_class"].map(_CLASS_FACTORS).astype(float).fillna(1.0) * (1 + overdue / 365)
    return weights


def _allowed(frame: pd.DataFrame, jobs: pd.DataFrame, days: Days, pours: Bools, no_work: list[NoWork]) -> Bools:
    allowed = np.ones((len(frame), len(days)), dtype=bool)
    allowed[frame["task"].eq(REINSTATE).to_numpy()] &= pours
    # a booked day is not brought forward
    booked = frame["booked_on"].to_numpy().astype("datetime64[D]")
    allowed[~np.isnat(booked)] &= days >= booked[~np.isnat(booked), None]
    names = {"street": "street_matched", "district": "district"}
    weekday = (days.astype("datetime64[D]").astype(int) + 3) % 7
    for closed in no_work:
        at = np.ones(len(jobs), dtype=bool)
        for name, wanted in closed.scope.items():
            at &= jobs[names.get(name, name)].map(folded, na_action="ignore").eq(folded(wanted)).to_numpy()
        when = np.ones(len(days), dtype=bool)
        if closed.first is not None:
            when &= days >= np.datetime64(closed.first)
        if closed.last is not None:
            when &= days <= np.datetime64(closed.last)
        if closed.weekdays:
            when &= np.isin(weekday, [WEEKDAYS.index(name) for name in closed.weekdays if isinstance(name, str)])
        allowed[np.ix_(at, when)] = False
    return allowed
