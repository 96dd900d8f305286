"""Due days, and what a day late is worth: by hand."""

import numpy as np
import pandas as pd
import pytest

from pipeline.plan.due import due_days, lateness_weights, moved_to_working_days, weights_in_force
from pipeline.programme.plan import LatenessWeights
from pipeline.programme.plan_defaults import plan_defaults

_FIRST = pd.Timestamp("2026-10-01")
_WEIGHTS = plan_defaults().weights


def _jobs(**cells):
    columns = {
        "permit_expires_on": None, "opened_on": None, "resurfacing_due_on": None, "planned_on": None,
        "allowed_days": 30.0, "urgency": None, "task": "reinstate", "road_class": "local", **cells,
    }  # fmt: skip
    frame = pd.DataFrame(columns, index=range(max(len(cell) for cell in columns.values() if isinstance(cell, list))))
    for name in ("permit_expires_on", "opened_on", "resurfacing_due_on", "planned_on"):
        frame[name] = pd.to_datetime(frame[name]).dt.tz_localize("America/Toronto")
    return frame


def _due(**cells):
    due, by = due_days(_jobs(**cells), _FIRST)
    return [(None if pd.isna(day) else f"{day:%Y-%m-%d}", name) for day, name in zip(due, by, strict=True)]


def test_the_first_of_permit_open_days_and_planned_works_counts():
    found = _due(
        permit_expires_on=["2026-10-20", "2026-10-20", "2026-10-20", None],
        opened_on=["2026-10-01", "2026-09-01", "2026-09-01", None],
        resurfacing_due_on=[None, None, "2026-09-30", None],
    )
    assert found == [
        ("2026-10-20", "permit"),
        ("2026-10-01", "opened"),
        ("2026-09-29", "planned works"),
        (None, "none"),
    ]


def test_a_booked_day_counts_alone():
    assert _due(permit_expires_on=["2026-10-05"], planned_on=["2026-11-02"]) == [("2026-11-02", "booked")]


def test_a_hazard_is_due_at_once_and_is_made_safe_whatever_is_booked():
    found = _due(urgency=["hazard", "hazard"], task=["reinstate", "make safe"], planned_on=[None, "2026-11-02"])
    assert found == [("2026-10-01", "hazard"), ("2026-10-01", "hazard")]


def test_a_hazard_that_is_only_made_safe_is_not_late_since_the_core_was_opened():
    found = _due(
        urgency=["hazard", "hazard"],
        task=["make safe", "reinstate"],
        opened_on=["2025-07-31", "2025-07-31"],
        permit_expires_on=["2025-09-01", "2025-09-01"],
        resurfacing_due_on=["2026-08-01", "2026-08-01"],
    )
    assert found == [("2026-10-01", "hazard"), ("2025-08-30", "opened")]


def test_a_booked_day_moves_to_the_next_day_on_which_a_crew_works_that_may_do_it():
    """Thursday to Sunday; crew 1 works on Thursday and Saturday, crew 2 on Sunday."""
    days = np.arange("2026-10-01", "2026-10-05", dtype="datetime64[D]")
    works = np.array([[1, 0, 1, 0], [0, 0, 0, 1]], dtype=bool)
    fits = np.array([[1, 0], [0, 1], [1, 1], [0, 0], [1, 0]], dtype=bool)
    jobs = pd.DataFrame(
        {
            "due_on": pd.to_datetime(["2026-10-02"] * 3 + ["2026-10-02", "2026-10-02"]),
            "due_by": ["booked", "booked", "hazard", "booked", "permit"],
        }
    )
    due = moved_to_working_days(jobs, fits, works, days)
    assert due.dt.strftime("%d").tolist() == ["03", "04", "03", "02", "02"]


def test_a_booked_day_before_the_plan_or_on_a_working_day_stays():
    days = np.arange("2026-10-01", "2026-10-03", dtype="datetime64[D]")
    jobs = pd.DataFrame({"due_on": pd.to_datetime(["2026-09-20", "2026-10-01"]), "due_by": ["booked", "booked"]})
    due = moved_to_working_days(jobs, np.ones((2, 1), bool), np.ones((1, 2), bool), days)
    assert due.tolist() == jobs["due_on"].tolist()


def test_urgency_road_and_age_weigh():
    """Usual 20; overdue 60; hazard 960; booked at least 480. Main roads 1.6 times, a year overdue twice as much."""
    jobs = _jobs(
        urgency=[None, "overdue", "hazard", None, "hazard"],
        planned_on=[None, None, None, "2026-11-02", None],
        road_class=["local", "main", "local", "local", "main"],
    )
    due = pd.Series(pd.to_datetime(["2026-12-01", "2026-10-01", None, "2026-11-02", "2025-10-01"]))
    weights = lateness_weights(jobs, due, _FIRST, _WEIGHTS)
    assert weights.tolist() == pytest.approx([20, 60 * 1.6, 960, 480, 960 * 1.6 * 2])


def test_a_job_past_its_due_day_is_overdue_without_any_finding():
    """73 days are a fifth of a year: 60 x (1 + 0.2)."""
    due = pd.Series(pd.to_datetime(["2026-07-20"]))
    assert lateness_weights(_jobs(urgency=[None]), due, _FIRST, _WEIGHTS).tolist() == pytest.approx([72])


def test_the_programmes_weights_override_ours():
    stated = LatenessWeights.model_validate({"hazard": "500 min", "road_class": {"main": 3, "local": 0.5}})
    force = weights_in_force(stated, _WEIGHTS)
    assert (force.hazard, force.overdue) == (500, 60)
    assert force.road_class == {"motorway": 2.0, "main": 3, "secondary": 1.3, "local": 0.5}
