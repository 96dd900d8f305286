"""Why cores are not planned, and what would be needed: by hand."""

import numpy as np
import pandas as pd
import pytest

from pipeline.plan.crews import Team
from pipeline.plan.jobs import Jobs
from pipeline.plan.minutes import MINUTE_COLUMNS
from pipeline.plan.not_planned import NO_TIME, able_crews, alone_minutes, crowded_out, not_planned_of
from pipeline.plan.travel import Travel
from pipeline.plan.weather import Supplier, curing_of
from pipeline.programme.plan import Crew

# Thursday 1 to Wednesday 14 October: ten working days
_DAYS = np.arange("2026-10-01", "2026-10-15", dtype="datetime64[D]")
_WORKING = np.is_busday(_DAYS)
_CURING = curing_of(_DAYS, None, Supplier(30, 20, 0, 5))
_NOTHING = pd.DataFrame({"district": [], "travel_min": []})
_STEPS = dict(zip(MINUTE_COLUMNS, (12.0, 8.0, 3.0, 2.0, 1.0, 6.0, 15.0, 20.0), strict=True))
_JOB = {
    "task": "reinstate", "district": "Mill Bank", "surface": "asphalt", "net_bags": 0.8, "gravel_kg": 7.0,
    "booked_on": None, **_STEPS,
}  # fmt: skip


# a crew that starts at the first place, and jobs of which each is at the second, 25 km away
_FAR = Travel(np.array([[0.0, 0.0], [25_000.0, 0.0]]), 1.0)
_NEAR = _FAR._replace(xy=np.zeros((2, 2)))


def _team(*districts, **keys):
    crew = Crew.model_validate({"name": f"{districts[0]} crew", "break": "30 min", **keys})
    return Team(crew, districts, "yard", (0.0, 0.0), "yard", "programme", 0)


def _frame(*changes):
    frame = pd.DataFrame([{**_JOB, **change} for change in changes])
    frame["booked_on"] = pd.to_datetime(frame["booked_on"])
    return frame.assign(place=1, row=range(1, len(frame) + 1), core_id=[f"C{row}" for row in range(1, len(frame) + 1)])


def _left(*changes, teams, allowed=None, stops=_NOTHING, curing=_CURING, works=_WORKING, travel=_NEAR, smallest=1.0):
    frame = _frame(*changes)
    allowed = np.ones((len(frame), len(_DAYS)), dtype=bool) if allowed is None else allowed
    out = pd.DataFrame({name: [] for name in ("row", "core_id", "district", "task", "reason", "remedy", "bags")})
    jobs = Jobs(frame, allowed, out)
    return not_planned_of(
        jobs,
        frame,
        stops,
        teams,
        np.array([works] * len(teams), dtype=bool).reshape(-1, len(_DAYS)),
        _DAYS,
        curing,
        30.0,
        24.0,
        travel,
        500.0,
        smallest,
    )


@pytest.mark.parametrize(("smallest", "kg"), [(1.0, 31), (0.5, 19)])
def test_half_a_bag_weighs_half_where_half_bags_are_mixed(smallest, kg):
    """24 kg a bag, and 7 kg of gravel."""
    left = _left({"net_bags": 0.4}, teams=[_team("Mill Bank", carries="15 kg")], smallest=smallest)
    assert left["remedy"].tolist() == [f"a truck that carries {kg} kg"]


def test_a_core_alone_takes_its_steps_and_waits_for_traffic():
    """12 + 8 + 2 bags x 3 + 2 + 1 = 29 minutes, then the longer of 6 to clean and 30 to wait."""
    frame = _frame({"net_bags": 1.2}, {"task": "survey", "net_bags": None}, {"task": "make safe", "net_bags": None})
    assert alone_minutes(frame, 30.0).tolist() == [59, 15, 20]
    assert alone_minutes(frame, 0.0)[0] == 35


def test_crews_do_the_jobs_of_their_districts_on_their_surfaces():
    teams = [_team("Mill Bank"), _team("Mill Bank", "Old Market", surfaces=["concrete"])]
    able = able_crews(_frame({}, {"district": "Old Market"}, {"surface": "concrete"}), teams)
    assert able.serves.tolist() == [[True, True], [False, True], [True, True]]
    assert able.fits.tolist() == [[True, False], [False, False], [True, True]]


@pytest.mark.parametrize(
    ("job", "keys", "reason", "remedy"),
    [
        ({"district": "Old Market"}, {}, "no crew serves its district", "a crew that serves Old Market"),
        (
            {},
            {"surfaces": ["concrete"]},
            "no crew of its district works on its surface",
            "a crew there that works in asphalt",
        ),
        (
            {"booked_on": "2026-11-02"},
            {},
            "booked for a day after the last day of the plan",
            "a plan that extends to 2026-11-02",
        ),
        # 30 bags of 24 kg and 7 kg of gravel
        ({"net_bags": 29.5}, {"carries": "700 kg"}, "heavier than any truck can carry", "a truck that carries 727 kg"),
        # 12 + 8 + 3 + 2 + 1 + 30 = 56 minutes; the shift has 50 without its break
        (
            {},
            {"shift": ["08:00", "09:20"]},
            "takes longer than the shift",
            "a shift of more than 56 minutes with travel",
        ),
    ],
)
def test_the_reason_says_what_stands_in_the_way_and_the_remedy_what_would_help(job, keys, reason, remedy):
    left = _left(job, teams=[_team("Mill Bank", **keys)])
    assert left[["reason", "remedy"]].to_numpy().tolist() == [[reason, remedy]]


def test_a_job_without_a_working_day_says_so():
    weekends = np.array([~_WORKING])
    (reason,) = _left({}, teams=[_team("Mill Bank")], allowed=weekends)["reason"]
    assert reason == "no working day of the plan on which work is permitted there"


def test_where_it_is_too_cold_all_the_time_that_is_the_reason():
    cold = _CURING._replace(pours=np.zeros(len(_DAYS), dtype=bool))
    allowed = np.array([[False] * len(_DAYS), [True] * len(_DAYS)])
    left = _left({}, {"task": "survey", "net_bags": None}, teams=[_team("Mill Bank")], allowed=allowed, curing=cold)
    assert left["reason"].tolist() == [
        "grout cannot be poured on any working day of the plan",
        "no crew time left within the plan",
    ]


def test_what_finds_no_room_says_how_many_crews_for_how_long():
    """40 cores x (56 + 4 min of travel) = 2,400 minutes; a crew's day has 480: five crew days, five days per week."""
    stops = pd.DataFrame({"district": ["Mill Bank", "Mill Bank"], "travel_min": [3.0, 5.0]}, index=[900, 901])
    left = _left(*[{}] * 40, teams=[_team("Mill Bank")], stops=stops)
    assert {*left["reason"]} == {"no crew time left within the plan"}
    assert {*left["remedy"]} == {"one more crew in Mill Bank for 1 week (5 crew days for 40 cores)"}


def test_more_than_the_plan_holds_needs_several_crews():
    """200 cores x 56 = 11,200 minutes are 24 crew days, five weeks; the plan has two, so three crews for two weeks."""
    left = _left(*[{}] * 200, teams=[_team("Mill Bank")])
    assert {*left["remedy"]} == {"3 more crews in Mill Bank for 2 weeks (24 crew days for 200 cores)"}


def test_crews_that_are_needed_are_counted_on_the_days_on_which_the_work_is_possible():
    """40 cores x (56 + 0) = 2,240 minutes are five crew days; grout can be poured on two days: three crews."""
    warm = np.zeros((40, len(_DAYS)), dtype=bool)
    warm[:, :2] = True
    left = _left(*[{}] * 40, teams=[_team("Mill Bank")], allowed=warm)
    (remedy,) = {*left["remedy"]}
    assert remedy == (
        "3 more crews in Mill Bank on each of the 2 working days on which it is possible "
        "(5 crew days for 40 cores), or a longer plan"
    )


def test_without_any_crew_nothing_is_planned_and_every_core_has_its_reason():
    left = _left({}, {}, teams=[])
    assert left["reason"].tolist() == ["no crew serves its district"] * 2


def test_what_is_planned_is_not_listed():
    stops = pd.DataFrame({"district": ["Mill Bank"], "travel_min": [3.0]}, index=[0])
    assert _left({}, {}, teams=[_team("Mill Bank")], stops=stops)["core_id"].tolist() == ["C2"]


@pytest.mark.parametrize("shift", [["08:00", "08:30"], ["08:00", "08:10"]])
def test_a_shift_that_its_break_fills_is_the_reason(shift):
    left = _left({}, teams=[_team("Mill Bank")._replace(crew=_short(shift))])
    assert left["reason"].tolist() == ["takes longer than the shift"]


def _short(shift):
    """Return a crew whose break, our default of 30 minutes, is as long as its shift or longer."""
    return Crew.model_validate({"name": "A", "shift": shift}).model_copy(update={"break_min": 30.0})


def test_where_nobody_works_the_reason_is_not_the_cold():
    left = _left({}, teams=[_team("Mill Bank")], works=np.zeros(len(_DAYS), dtype=bool))
    assert left["reason"].tolist() == ["no working day of the plan on which work is permitted there"]


def test_a_start_from_which_a_shift_is_too_short_to_go_there_and_back_is_the_reason():
    """25 km at 500 m per min are 50 min: there and back with 56 min of work 156; the shift has 150, then 160."""
    left, right = (
        _left({}, teams=[_team("Mill Bank", shift=["07:00", end])], travel=_FAR) for end in ("10:00", "10:10")
    )
    assert left[["reason", "remedy"]].to_numpy().tolist() == [
        [
            "too far from where its crew starts",
            "a yard less than 50 minutes of travel away: check plan.yards, longitude first",
        ]
    ]
    assert right["reason"].tolist() == ["no crew time left within the plan"]


def test_a_survey_takes_no_bags_and_no_gravel_whatever_the_crew_carries():
    survey = {"task": "survey", "net_bags": None, "gravel_kg": None}
    left = _left(survey, teams=[_team("Mill Bank", carries="0.5 kg")])
    assert left["reason"].tolist() == ["no crew time left within the plan"]


def test_only_a_booked_core_that_a_crew_could_do_on_its_day_may_lack_room():
    """Booked for the second day: one as any, one whose day is closed, one elsewhere, one too heavy, one not booked."""
    day = str(_DAYS[1])
    frame = _frame(*[{"booked_on": day}] * 2, {"booked_on": day, "district": "South"}, {"booked_on": day}, {})
    allowed = np.ones((len(frame), len(_DAYS)), dtype=bool)
    allowed[1, 1] = False
    left = pd.DataFrame({"row": [1, 4], "reason": [NO_TIME, "heavier than any truck can carry"]})
    works = np.ones((1, len(_DAYS)), dtype=bool)
    frame["due_on"] = frame["booked_on"]
    assert crowded_out(frame, allowed, [_team("Mill Bank")], works, _DAYS, left).tolist() == [0]
    works[:, 1] = False
    assert crowded_out(frame, allowed, [_team("Mill Bank")], works, _DAYS, left).empty
    assert crowded_out(frame.iloc[4:], allowed[4:], [_team("Mill Bank")], works, _DAYS, left).empty
