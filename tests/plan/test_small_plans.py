"""Plans of a few jobs against every plan that there is."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.plan.bounds import Planned, Weights, bounds_of
from pipeline.plan.crews import Team
from pipeline.plan.mix_sets import MixRules
from pipeline.plan.promises import no_promises
from pipeline.plan.stops import stops_of
from pipeline.plan.weather import ALL_DAY_MIN, Curing
from pipeline.plan.work import Work, routes_of
from pipeline.programme.plan import Crew
from tests.plan.every_plan import BAG_MIN, DAY_MIN, LEFT_OUT_MIN, Town, least_of_all_plans
from tests.plan.few_jobs import few_jobs, travel_of

_MONDAY = np.datetime64("2026-10-05")


def _work(town):
    """Return the same as the planner takes it."""
    count, days = town.late.shape
    text = pd.Series([None] * count, dtype="str")
    jobs = few_jobs(
        town.net, town.x, row=range(count), core_id=[f"c{at}" for at in range(count)], urgency=text, due_by=text,
        due_on=pd.NaT, permit_until=pd.NaT,
    ).astype({"due_on": "datetime64[us]", "permit_until": "datetime64[us]"})  # fmt: skip
    starts = [(float(x), 0.0) for x in town.starts]
    shift = ["07:00", f"{7 + int(town.shift_min // 60):02}:{int(town.shift_min % 60):02}"]
    teams = [
        Team(Crew.model_validate({"name": f"crew {at}", "shift": shift}), ("North",), "Yard", start,
             "Yard", "programme", count + at)
        for at, start in enumerate(starts)
    ]  # fmt: skip
    return Work(
        jobs, town.allowed, town.late, teams, town.works, _MONDAY + np.arange(days), np.full(days, town.cure_min),
        travel_of(jobs, starts), town.driving, MixRules(town.working_min, town.walking, 1.0), 25.0, 3.5,
        no_promises(count),
    )  # fmt: skip


def _bounds(work, stops, crew_days):
    planned = Planned(work.jobs, work.allowed, work.late, work.teams, work.works, work.days, work.wait_min,
                      work.travel, work.rules)  # fmt: skip
    table = bounds_of(planned, Weights(BAG_MIN, DAY_MIN, LEFT_OUT_MIN), stops, crew_days, [None])
    return table.set_index("measure")


def _planned(work):
    days = len(work.days)
    none = np.zeros(days)
    curing = Curing(none + 15, np.ones(days, bool), work.wait_min, none, none + ALL_DAY_MIN, ("forecast",) * days)
    stops, _, crew_days = stops_of(work, routes_of(work, 200, 1), curing, waits=True)
    return stops, crew_days


def _small(count, days=2, crews=2, shifts=(60.0, 130.0, 480.0)):
    """Draw a town of a few jobs; lateness grows from day to day."""
    one_day = st.integers(0, days - 1)
    return st.builds(
        lambda net, x, due, weight, first, starts, works, shift, working: Town(
            net, x, np.maximum(np.arange(days) - np.array(due)[:, None], 0) * np.array(weight)[:, None],
            np.arange(days) >= np.array(first)[:, None], starts, works, shift_min=shift, working_min=working,
        ),
        st.lists(st.sampled_from([0.0, 0.3, 0.5, 0.7, 1.3]), min_size=count, max_size=count),
        st.lists(st.integers(0, 800), min_size=count, max_size=count),
        st.lists(st.integers(-3, days - 1), min_size=count, max_size=count),
        st.lists(st.sampled_from([20.0, 60.0, 240.0]), min_size=count, max_size=count),
        st.lists(one_day, min_size=count, max_size=count),
        st.lists(st.integers(0, 4000), min_size=crews, max_size=crews),
        st.lists(st.lists(st.booleans(), min_size=days, max_size=days), min_size=crews, max_size=crews),
        st.sampled_from(shifts),
        st.sampled_from([0.0, 10.0, 20.0]),
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(_small(3))
def test_no_plan_is_better_than_the_bounds(town):
    work = _work(town)
    stops = pd.DataFrame({"day": pd.Timestamp(_MONDAY)}, index=work.jobs.index)
    crew_days = pd.DataFrame({"bags": [0.0], "travel_min": [0.0]})
    bounds, least = _bounds(work, stops, crew_days)["bound"], least_of_all_plans(town)
    for measure in ("objective", "weighted lateness", "bags to mix", "crew days"):
        assert bounds[measure] <= least[measure] + 1e-6, measure


@settings(max_examples=20, deadline=None)
# in a day that has no room for most of them, the planner offers itself only the most urgent
@given(_small(4, crews=1, shifts=(240.0, 480.0)))
def test_a_small_plan_is_close_to_the_best_there_is(town):
    work = _work(town)
    stops, crew_days = _planned(work)
    table, least = _bounds(work, stops, crew_days), least_of_all_plans(town)["objective"]
    assert table.loc["objective", "planned"] >= least - 1.0
    assert table.loc["objective", "planned"] <= 1.05 * least + 5.0


def test_bounds_are_reached_where_nothing_is_left_out_of_account():
    # two cores that fill a bag, at the yard, due on the day: one crew day, one bag, nothing late
    town = Town([0.6, 0.4], [0, 0], [[0, 20], [0, 20]], [[1, 1], [1, 1]], [0], [[1, 1]])
    work = _work(town)
    table = _bounds(work, *_planned(work))
    assert table.loc[["weighted lateness", "crew days", "bags to mix"], "planned"].tolist() == [0.0, 1.0, 1.0]
    assert table.loc[["weighted lateness", "crew days", "bags to mix"], "bound"].tolist() == [0.0, 1.0, 1.0]
    assert table["gap"].isna().tolist() == [True, False, False, False]


def test_lateness_is_proven_where_the_crew_has_no_time_for_all():
    # each core takes 12 + 8 + 3 + 2 + 1 min and 30 until traffic, 56 in all: a shift of 60 min holds one of three
    town = Town([1.0, 1.0, 1.0], [0, 0, 0], [[0, 20, 40]] * 3, np.ones((3, 3)), [0], [[1, 1, 1]], shift_min=60.0)
    work = _work(town)
    table = _bounds(work, *_planned(work))
    # planned on the first, second and third day: 0 + 20 + 40; divided, 180 minutes hold 168 of work: 12 min left over
    assert table.loc["weighted lateness", "planned"] == pytest.approx(60.0)
    assert 50.0 < table.loc["weighted lateness", "bound"] <= 60.0
    assert table.loc["crew days", "bound"] == 3.0
