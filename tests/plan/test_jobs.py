"""Which cores become which task, and on which days."""

import numpy as np
import pandas as pd
import pytest

from pipeline.plan.jobs import closed_days, jobs_of
from pipeline.programme.plan import NoWork
from pipeline.programme.plan_defaults import plan_defaults

_WEIGHTS = plan_defaults().weights
# Thursday 1 to Wednesday 7 October
_DAYS = np.arange("2026-10-01", "2026-10-08", dtype="datetime64[D]")
_EVERY_DAY = np.ones(len(_DAYS), dtype=bool)
_CORE = {
    "is_open": True, "is_thin": False, "bags": 0.8, "gravel_kg": 7.0, "surface": "asphalt", "reinstatable": True,
    "hole_mm": 457.2, "depth_believed_mm": 200.0, "urgency": None, "x_m": 0.0, "y_m": 0.0, "shade": "dark",
    "is_rigid": False, "district": "Mill Bank", "street_matched": "Mill Street", "road_class": "local",
    "road_authority": "Vale", "allowed_days": 30.0, "permit_expires_on": None, "opened_on": None,
    "resurfacing_due_on": None, "planned_on": None,
}  # fmt: skip
_DATES = ("permit_expires_on", "opened_on", "resurfacing_due_on", "planned_on")


def _cores(*changes):
    frame = pd.DataFrame([{**_CORE, **change} for change in changes])
    frame = frame.assign(row=range(1, len(frame) + 1), core_id=[f"C{row}" for row in range(1, len(frame) + 1)])
    return frame.assign(**{name: pd.to_datetime(frame[name]).dt.tz_localize("UTC") for name in _DATES})


def _jobs(*changes, pours=_EVERY_DAY, no_work=()):
    return jobs_of(_cores(*changes), _DAYS, pours, list(no_work), _WEIGHTS, pd.Timestamp("2026-09-30"))


@pytest.mark.parametrize(
    ("core", "task"),
    [
        ({}, "reinstate"),
        ({"bags": None, "surface": "unknown", "reinstatable": False}, "survey"),
        ({"bags": None, "hole_mm": None}, "survey"),
        ({"bags": None, "depth_believed_mm": None}, "survey"),
        ({"bags": None, "surface": "block paving", "reinstatable": False, "urgency": "hazard"}, "make safe"),
        ({"bags": None, "is_thin": True, "urgency": "hazard"}, "make safe"),
        ({"is_open": False, "bags": None, "urgency": "hazard"}, "make safe"),
    ],
)
def test_each_core_with_work_has_its_task(core, task):
    jobs = _jobs(core)
    assert jobs.frame["task"].tolist() == [task]
    assert jobs.left_out.empty


@pytest.mark.parametrize(
    ("core", "reason"),
    [
        ({"bags": None, "is_thin": True}, "pavement too thin for core reinstatement"),
        ({"bags": None, "surface": "gravel", "reinstatable": False}, "surface not suitable for core reinstatement"),
        ({"x_m": None, "y_m": None}, "no position"),
    ],
)
def test_a_core_that_no_plan_can_help_is_left_out_with_its_reason(core, reason):
    jobs = _jobs(core)
    assert jobs.frame.empty
    assert jobs.left_out["reason"].tolist() == [reason]
    assert jobs.left_out["remedy"].ne("").all()


def test_every_open_core_is_a_job_or_left_out_and_never_both():
    values = {
        "bags": [0.8, None], "surface": ["asphalt", "unknown", "gravel"], "hole_mm": [457.2, None], "x_m": [0.0, None],
        "is_thin": [False, True], "reinstatable": [True, False], "urgency": [None, "hazard"],
    }  # fmt: skip
    grid = pd.MultiIndex.from_product(values.values(), names=list(values)).to_frame(index=False)
    jobs = _jobs(*grid.to_dict("records"))
    assert sorted([*jobs.frame["core_id"], *jobs.left_out["core_id"]]) == sorted(f"C{row + 1}" for row in grid.index)


def test_grout_is_only_poured_on_days_that_allow_it_and_a_survey_on_any():
    pours = np.array([0, 1, 1, 0, 1, 1, 1], dtype=bool)
    jobs = _jobs({}, {"bags": None, "hole_mm": None}, pours=pours)
    assert jobs.allowed.tolist() == [pours.tolist(), [True] * 7]


def test_a_booked_day_is_not_brought_forward_and_a_survey_need_not_wait_for_it():
    booked = {"planned_on": "2026-10-05"}
    jobs = _jobs(booked, {**booked, "bags": None, "hole_mm": None})
    assert jobs.allowed.tolist() == [[False] * 4 + [True] * 3, [True] * 7]


def test_no_work_closes_the_streets_it_names():
    closed = NoWork.model_validate({"street": "mill  STREET", "road_authority": "Vale", "from": _DAYS[1].item()})
    jobs = _jobs({}, {"street_matched": "Oat Street"}, {"road_authority": "County"}, no_work=[closed])
    assert jobs.allowed[0].tolist() == [True] + [False] * 6
    assert jobs.allowed[1:].all()


@pytest.mark.parametrize(
    ("written", "numbers"),
    [
        ({"from": "2026-10-02", "to": "2026-10-05"}, [2, 3, 4, 5]),
        ({"weekdays": ["Saturday", "sunday"]}, [3, 4]),
        ({"weekdays": ["Friday", "2026-10-06"]}, [2, 6]),
        ({"to": "2026-10-04", "weekdays": ["Monday", "Thursday"]}, [1]),
    ],
)
def test_closed_days_are_weekdays_and_dates_within_a_span(written, numbers):
    days = {
        name: [pd.Timestamp(day).date() if day[0] == "2" else day for day in cell]
        if isinstance(cell, list)
        else pd.Timestamp(cell).date()
        for name, cell in written.items()
    }
    closed = NoWork.model_validate({"street": "Mill Street", **days})
    assert (np.flatnonzero(closed_days(closed, _DAYS)) + 1).tolist() == numbers


def test_the_permit_goes_with_the_job():
    assert _jobs({"permit_expires_on": "2026-10-03"}).frame["permit_until"].tolist() == [pd.Timestamp("2026-10-03")]


def test_a_hazard_is_due_on_the_first_day_of_the_plan():
    jobs = _jobs(
        {"urgency": "hazard"}, {"bags": None, "surface": "block paving", "reinstatable": False, "urgency": "hazard"}
    )
    assert jobs.frame["task"].tolist() == ["reinstate", "make safe"]
    assert jobs.frame["due_on"].tolist() == [pd.Timestamp("2026-10-01")] * 2
    assert jobs.frame["due_by"].tolist() == ["hazard"] * 2
