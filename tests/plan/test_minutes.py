"""Minutes at a core: by hand, and a simulated register of which the truth is known."""

import numpy as np
import pandas as pd
import pytest

from pipeline.plan.minutes import least_ready, minutes_in_force, minutes_of, times_between
from pipeline.programme.plan import StepMinutes
from pipeline.programme.plan_defaults import CORE_STEPS, plan_defaults

_DEFAULTS = plan_defaults()
_NO_TIMES = pd.DataFrame({"minutes": [], "bags": [], "hole_mm": [], "is_rigid": []})
_18_IN = 457.2


def _register(*rows):
    """Return cores of crew A at one place, each with its time, its reopening and its easting."""
    at, reopened, x = zip(*rows, strict=True)
    return pd.DataFrame(
        {
            "crew": ["Crew A"] * len(rows),
            "reinstated_at": pd.to_datetime(list(at)).tz_localize("America/Toronto"),
            "reopened_at": pd.to_datetime(list(reopened)).tz_localize("America/Toronto"),
            "x_m": list(x),
            "y_m": 0.0,
            "hole_mm": _18_IN,
            "is_rigid": False,
            "bags_used": 0.8,
        }
    )


def _times(register, *, waits=True):
    return times_between(register, _DEFAULTS.learning, 500.0, 1.4, waits=waits)["minutes"].tolist()


def test_without_times_our_defaults_are_used_by_size_and_surface():
    force = minutes_in_force(_NO_TIMES, StepMinutes(), _DEFAULTS)
    jobs = pd.DataFrame({"hole_mm": [300.0, 304.8, _18_IN, 500.0], "is_rigid": [False, False, True, True]})
    assert minutes_of(jobs, force)["dry_fit_min"].tolist() == [6, 6, 10, 15]
    assert minutes_of(jobs, force)["survey_min"].tolist() == [15] * 4
    assert {*force.table["origin"]} == {"our default"}
    assert len(force.table) == 6 * 3 * 2 + 2


def test_the_fewest_minutes_to_a_pour_are_those_of_setting_up_fitting_and_one_bag():
    """A small core in asphalt: 10 + 6 + 3; a large one in concrete takes longer."""
    force = minutes_in_force(_NO_TIMES, StepMinutes(), _DEFAULTS)
    jobs = pd.DataFrame({"hole_mm": [300.0, 500.0], "is_rigid": [False, True]})
    assert least_ready(minutes_of(jobs, force)) == 19
    assert least_ready(minutes_of(jobs.iloc[:0], force)) == 0


def test_what_the_programme_states_holds_for_every_size():
    force = minutes_in_force(_NO_TIMES, StepMinutes(dry_fit="9 min", survey="25 min"), _DEFAULTS)
    jobs = pd.DataFrame({"hole_mm": [300.0, 500.0], "is_rigid": [False, True]})
    assert minutes_of(jobs, force)[["dry_fit_min", "survey_min"]].to_numpy().tolist() == [[9, 25], [9, 25]]
    assert set(force.table.loc[force.table["origin"].eq("programme"), "step"]) == {"dry fit", "survey"}


def test_a_time_runs_from_the_reopening_of_the_core_before_less_the_travel():
    """08:00, reopened 08:30; 1,000 m x 1.4 at 500 m per minute are 2.8 minutes; reinstated at 09:10: 37.2 minutes."""
    cores = _register(("2026-05-04 08:00", "2026-05-04 08:30", 0), ("2026-05-04 09:10", None, 1000))
    assert _times(cores) == [pytest.approx(37.2)]


def test_a_crew_that_went_on_before_the_reopening_did_not_wait():
    cores = _register(("2026-05-04 08:00", "2026-05-04 12:00", 0), ("2026-05-04 08:50", None, 0))
    assert _times(cores) == [50]


def test_without_a_reopening_the_time_is_only_known_of_crews_that_do_not_wait():
    cores = _register(("2026-05-04 08:00", None, 0), ("2026-05-04 08:50", None, 0))
    assert _times(cores) == []
    assert _times(cores, waits=False) == [50]


@pytest.mark.parametrize(
    "second", ["2026-05-05 09:00", "2026-05-04 13:00", "2026-05-04 12:31", "2026-05-04 00:00"], ids=str
)
def test_other_days_breaks_long_times_and_days_without_a_time_are_left_out(second):
    cores = _register(("2026-05-04 11:50", "2026-05-04 12:10", 0), (second, None, 0))
    assert _times(cores) == []


def test_a_time_of_more_than_three_hours_is_left_out():
    cores = _register(("2026-05-04 13:00", "2026-05-04 13:00", 0), ("2026-05-04 16:01", None, 0))
    assert _times(cores) == []


def test_two_crews_are_never_one():
    cores = _register(("2026-05-04 08:00", "2026-05-04 08:30", 0), ("2026-05-04 09:10", None, 0))
    assert _times(cores.assign(crew=["Crew A", "Crew B"])) == []
    assert _times(cores.assign(crew=["Crew A", " crew a"])) == [40]


def _taken(minutes, count, hole_mm=_18_IN, *, is_rigid=False, bags=1.0):
    return pd.DataFrame({"minutes": [minutes] * count, "bags": bags, "hole_mm": hole_mm, "is_rigid": is_rigid})


def test_enough_times_stretch_the_steps_so_that_they_add_up_to_them():
    """By default 12 + 8 + 3 + 2 + 1 + 6 = 32 minutes; 48 were taken, so each step takes 1.5 times as long."""
    force = minutes_in_force(_taken(48.0, 30), StepMinutes(), _DEFAULTS)
    steps = minutes_of(pd.DataFrame({"hole_mm": [_18_IN], "is_rigid": [False]}), force).iloc[0]
    assert steps[[f"{step}_min" for step in CORE_STEPS]].tolist() == pytest.approx([18, 12, 4.5, 3, 1.5, 9])
    assert force.table.loc[force.table["step"].eq("pour"), "origin"].tolist() == ["learnt"] * 6
    assert force.table.loc[force.table["step"].eq("survey"), "origin"].tolist() == ["our default"]


def test_bags_are_counted_where_minutes_are_learnt():
    """Three bags: 32 + 2 x 3 = 38 minutes by default, and 38 were taken."""
    force = minutes_in_force(_taken(38.0, 30, bags=3.0), StepMinutes(), _DEFAULTS)
    assert force.by_step["set_up"][0, 1] == pytest.approx(12)


def test_too_few_times_change_nothing():
    force = minutes_in_force(_taken(48.0, 29), StepMinutes(), _DEFAULTS)
    assert force.by_step["set_up"][0, 1] == 12
    assert force.table["cores"].sum() == 0


def test_a_class_with_too_few_times_of_its_own_takes_what_all_took():
    """30 times of twice the default, 10 in large rigid cores of three times: those ten have the median of all forty."""
    large = 15 + 15 + 3 + 3 + 2.5 + 8
    times = pd.concat([_taken(64.0, 30), _taken(3 * large, 10, 600.0, is_rigid=True)])
    force = minutes_in_force(times, StepMinutes(), _DEFAULTS)
    assert force.by_step["set_up"][1, 2] == pytest.approx(15 * 2)
    counted = force.table[force.table["step"].eq("set up")].set_index(["size", "surface"])["cores"]
    assert counted.loc[("up to 18 in", "asphalt")] == 30
    assert counted.loc[("over 18 in", "rigid")] == 40


def test_steps_that_the_programme_states_are_not_stretched():
    """20 minutes of setting up stated: 48 - 20 = 28 are left for 20 by default, so the others take 1.4 times as long."""
    force = minutes_in_force(_taken(48.0, 30), StepMinutes(set_up="20 min"), _DEFAULTS)
    assert force.by_step["set_up"][0, 1] == 20
    assert force.by_step["dry_fit"][0, 1] == pytest.approx(8 * 1.4)


def test_a_simulated_register_gives_back_the_truth_that_it_was_made_with():
    """Crews that take 1.3 times our default and 1.7 times in rigid surfaces, with noise, breaks and other work."""
    rng = np.random.default_rng(14)
    rows = []
    for day in pd.bdate_range("2026-03-02", periods=120):
        at, x = day + pd.Timedelta(hours=8), 0.0
        while at < day + pd.Timedelta(hours=15):
            rigid = bool(rng.random() < 0.4)
            usual = sum(_DEFAULTS.core_minutes("rigid" if rigid else "asphalt")[step][1] for step in CORE_STEPS)
            hop = rng.uniform(0, 3000)
            spent = usual * (1.7 if rigid else 1.3) * rng.lognormal(0, 0.15) + hop * 1.4 / 500
            spent += 45 if rng.random() < 0.05 else 0
            if at < day + pd.Timedelta(hours=12, minutes=30) < at + pd.Timedelta(minutes=spent):
                spent += 30
            at += pd.Timedelta(minutes=spent)
            x += hop
            rows.append((at, at + pd.Timedelta(minutes=40), x, rigid))
            at += pd.Timedelta(minutes=40)
    at, reopened, x, rigid = zip(*rows, strict=True)
    register = _register(*zip(at, reopened, x, strict=True)).assign(is_rigid=rigid, bags_used=0.9)
    times = times_between(register, _DEFAULTS.learning, 500.0, 1.4, waits=True)
    force = minutes_in_force(times, StepMinutes(), _DEFAULTS)
    assert force.by_step["set_up"][0, 1] == pytest.approx(12 * 1.3, rel=0.05)
    assert force.by_step["set_up"][1, 1] == pytest.approx(12 * 1.7, rel=0.05)
