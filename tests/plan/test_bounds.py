import numpy as np
import pandas as pd
import pytest

from pipeline.plan.bounds import Planned, Weights, bounds_of
from pipeline.plan.crews import Team
from pipeline.programme.plan import Crew
from tests.plan.few_jobs import RULES, few_jobs, travel_of

_DAYS = np.datetime64("2026-10-05") + np.arange(4)
_WEIGHTS = Weights(30.0, 60.0, 300.0)


def _bounds(jobs, late, is_planned=None, wait=30.0, **crew):
    """Return the bounds of a plan of one crew that puts back what is planned on the first day."""
    one = Crew.model_validate({"name": "A", "shift": ["07:00", "15:00"], **crew})
    team = Team(one, ("North",), "Yard", (0.0, 0.0), "Yard", "programme", len(jobs))
    count = len(jobs)
    work = Planned(
        jobs, np.ones((count, 4), dtype=bool), np.array(late, float), [team], np.ones((1, 4), dtype=bool), _DAYS,
        np.full(4, wait), travel_of(jobs, [(0, 0)]), RULES,
    )  # fmt: skip
    planned = np.ones(count, dtype=bool) if is_planned is None else np.array(is_planned)
    stops = pd.DataFrame({"day": pd.Timestamp(_DAYS[0])}, index=jobs.index[planned])
    crew_days = pd.DataFrame({"bags": [5.0], "travel_min": [7.0]})
    return bounds_of(work, _WEIGHTS, stops, crew_days, [None]).set_index("measure")


def test_the_least_bags_are_whole_for_each_shade():
    # grey 0.6 + 0.4 in one bag, 0.7 in another; pale 0.3 in its own
    jobs = few_jobs([0.6, 0.4, 0.7, 0.3], [0, 10, 20, 30], shade=["grey", "grey", "grey", "pale"])
    table = _bounds(jobs, np.zeros((4, 4)))
    assert table.loc["bags to mix", ["planned", "bound"]].tolist() == [5.0, 3.0]
    assert table.loc["bags to mix", "gap"] == pytest.approx(2 / 3)


def test_only_planned_cores_need_bags_and_crew_days():
    jobs = few_jobs([0.6, 0.7], [0, 10])
    table = _bounds(jobs, np.zeros((2, 4)), is_planned=[True, False])
    assert table.loc[["bags to mix", "crew days"], "bound"].tolist() == [1.0, 1.0]


def test_the_least_crew_days_count_every_minute_at_the_cores():
    # 12 + 8 + 3 + 2 + 1 minutes and 30 until traffic: 56 per core of a whole bag, nine of them 504; a shift has 480
    jobs = few_jobs([1.0] * 9, np.arange(9) * 1000)
    assert _bounds(jobs, np.zeros((9, 4))).loc["crew days", "bound"] == 2.0
    assert _bounds(jobs.iloc[:8], np.zeros((8, 4))).loc["crew days", "bound"] == 1.0
    # without the wait 12 + 8 + 3 + 2 + 1 + 6 = 32 minutes
    assert _bounds(jobs, np.zeros((9, 4)), wait=np.nan).loc["crew days", "bound"] == 1.0


def test_cores_that_share_a_mix_wait_once():
    # alone 2 x 56 minutes; together 2 x (20 + 3) + 3 + 30, and 2 x 0.1 on foot, back not counted: 79.2
    jobs = few_jobs([0.6, 0.4], [0, 10])
    assert _bounds(jobs, np.zeros((2, 4)), shift=["07:00", "08:20"]).loc["crew days", "bound"] == 1.0
    assert _bounds(jobs, np.zeros((2, 4)), shift=["07:00", "08:19"]).loc["crew days", "bound"] == 2.0


def test_a_core_that_is_left_out_is_late_on_the_last_day():
    table = _bounds(few_jobs([1.0, 1.0], [0, 10]), [[0, 1, 2, 3], [0, 20, 40, 60]], is_planned=[True, False])
    assert table.loc["weighted lateness", ["planned", "bound"]].tolist() == [60.0, 0.0]
    # 60 late, 7 travel, a crew day at 60, 5 bags at 30, a core left out at 300
    assert table.loc["objective", "planned"] == 577.0


def test_the_objective_has_bags_and_minutes_of_crew_days_at_least():
    # two bags at 30, and 2 x 56 of 480 minutes of a day at 60
    table = _bounds(few_jobs([1.0, 1.0], [0, 10]), np.zeros((2, 4)))
    assert table.loc["objective", "bound"] == pytest.approx(60.0 + 60.0 * 112 / 480)


def test_a_core_that_no_crew_serves_is_left_out_of_every_plan():
    jobs = few_jobs([1.0], [0], district="South")
    table = _bounds(jobs, [[0, 20, 40, 60]], is_planned=[False])
    assert table.loc["objective", "bound"] == 360.0
    assert table.loc["weighted lateness", "bound"] == 60.0


def test_without_jobs_all_bounds_are_zero():
    table = _bounds(few_jobs([], []), np.zeros((0, 4)))
    assert table["bound"].tolist() == [0.0] * 4
    assert table["gap"].isna().all()


def test_a_bound_that_did_not_look_at_all_sets_says_so():
    jobs = few_jobs([0.3] * 400, [0] * 400)
    relaxed = _bounds(jobs, np.zeros((400, 4))).loc["bags to mix"]
    assert "not all sets of cores" in relaxed["relaxed"]
    # the net grout, rounded up
    assert relaxed["bound"] == 120.0


def test_without_a_wait_cores_that_share_a_mix_are_cleaned_one_after_the_other():
    # together 2 x (20 + 3) + 3 and 2 x 0.1 on foot, and 2 x 6 to clean: 61.2; alone 2 x 32
    jobs = few_jobs([0.6, 0.4], [0, 10])
    assert _bounds(jobs, np.zeros((2, 4)), wait=np.nan, shift=["07:00", "08:02"]).loc["crew days", "bound"] == 1.0
    assert _bounds(jobs, np.zeros((2, 4)), wait=np.nan, shift=["07:00", "08:01"]).loc["crew days", "bound"] == 2.0
