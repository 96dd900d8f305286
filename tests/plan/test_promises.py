import numpy as np
import pandas as pd
import pytest

from pipeline.plan.crews import Team
from pipeline.plan.promises import Promises, crew_days_of, dropped_notices, promises_of
from pipeline.plan.schedule import Visits
from pipeline.plan.travel import Travel
from pipeline.programme.plan import Crew

DAYS = np.datetime64("2026-10-01") + np.arange(3)


def team(name: str, districts: tuple[str, ...] = ("East",), place: int = 0, **crew: object) -> Team:
    own = Crew.model_validate({"name": name, "shift": ["08:00", "12:30"], "break": "30 min", **crew})
    return Team(own, districts, "yard", (0.0, 0.0), "yard", "programme", place)


def jobs(**given: object) -> pd.DataFrame:
    """Return four jobs, on an index that is not their position."""
    usual = {"district": "East", "surface": "asphalt", "shade": "grey", "net_bags": [0.5, 0.5, 0.5, np.nan]}
    return pd.DataFrame({**usual, **given}, index=[10, 11, 12, 13])


def kept(**given: object) -> pd.DataFrame:
    usual = {"crew": "A", "day": pd.Timestamp("2026-10-02"), "stop": [2, 1, 3, 4], "mix": [7, 7, None, None]}
    return pd.DataFrame({**usual, **given}, index=[10, 11, 12, 13])


def promised(kept_stops: pd.DataFrame, given: pd.DataFrame | None = None, **other: object) -> Promises:
    given = jobs() if given is None else given
    cores = pd.DataFrame({"core_id": [f"HV-{number}" for number in range(20)]})
    usual: dict[str, object] = {
        "allowed": np.ones((len(given), 3), dtype=bool),
        "teams": [team("A")],
        "works": np.ones((1, 3), dtype=bool),
    }
    allowed, teams, works = {**usual, **other}.values()
    return promises_of(kept_stops, cores, given, allowed, teams, works, DAYS)  # type: ignore[arg-type]


def test_promised_stops_keep_their_order_and_their_mix() -> None:
    found = promised(kept())
    assert found.dropped.empty
    assert found.day.tolist() == [1, 1, 1, 1]
    # stop 1 and 2 share mix 7; stops 3 and 4 have none
    assert found.sets() == [[1, 0], [2], [3]]


def test_a_crew_is_known_whatever_the_case_of_its_name() -> None:
    assert promised(kept(crew=" a")).dropped.empty


def test_a_core_that_needs_nothing_mixed_any_more_leaves_the_mix() -> None:
    found = promised(kept(), jobs(net_bags=[0.5, np.nan, 0.5, np.nan]))
    assert found.sets() == [[1], [0], [2], [3]]


def test_cores_that_no_longer_have_one_shade_do_not_share_a_mix() -> None:
    found = promised(kept(), jobs(shade=["grey", "dark", "grey", "grey"]))
    assert found.sets() == [[1], [0], [2], [3]]


@pytest.mark.parametrize(
    ("stops", "other", "why"),
    [
        ({"crew": ["A", "A", "A", "B"]}, {}, "the crew is no longer in the programme"),
        ({"day": pd.to_datetime(["2026-10-02"] * 3 + ["2026-09-30"])}, {}, "the day is not in the plan's horizon"),
        ({"day": pd.to_datetime(["2026-10-02"] * 3 + ["2026-10-04"])}, {}, "the day is not in the plan's horizon"),
        (
            {"day": pd.to_datetime(["2026-10-02"] * 3 + ["2026-10-03"])},
            {"works": np.array([[True, True, False]])},
            "the crew does not work on that day",
        ),
        (
            {},
            {"allowed": np.array([[True] * 3] * 3 + [[True, False, True]])},
            "no work may be done at the core on that day",
        ),
        ({}, {"teams": [team("A", surfaces=["asphalt"])]}, "the crew does not work in that district or surface"),
    ],
)
def test_a_promise_that_cannot_hold_is_dropped_with_its_reason(
    stops: dict[str, object], other: dict[str, object], why: str
) -> None:
    found = promised(kept(**stops), jobs(surface=["asphalt", "asphalt", "asphalt", "concrete"]), **other)
    assert found.dropped.to_dict("records") == [{"core_id": "HV-13", "why": why}]
    assert found.team.tolist() == [0, 0, 0, -1]


def test_a_core_that_is_reinstated_is_dropped_and_the_others_stay() -> None:
    found = promised(kept(), jobs().drop(index=11))
    assert found.dropped["why"].tolist() == ["no longer open, or no work left at the core"]
    assert found.sets() == [[0], [1], [2]]


def _visits(load_kg: list[float], worked: list[float], pressed: list[float]) -> Visits:
    here, ones = np.arange(len(load_kg)), np.ones((len(load_kg), 1))
    able = ones.astype(bool)
    return Visits(np.array(load_kg), np.array(worked), np.array(pressed), ones[:, 0], here, here, ones - 1, able, able)


def test_promised_visits_take_their_minutes_and_load_from_the_day() -> None:
    # yard at 0, visits at 1 km and 3 km, a km in a minute: 1 + 60, then 2 + 90 (80 until pressed, 10 until traffic)
    visits = _visits([100.0, 50.0], [60.0, 85.0], [np.nan, 80.0])
    travel = Travel(np.array([[1000.0, 0.0], [3000.0, 0.0], [0.0, 0.0]]), 1.0)
    yard = [team("A", place=2)]
    rooms, over = crew_days_of(visits, [(0, 0), (0, 0)], yard, np.array([10.0]), travel, 1000.0)
    assert over == []
    assert rooms[0, 0] == ([0, 1], 1, 240.0 - 61.0 - 92.0, 850.0)


def test_promised_visits_that_no_longer_fit_into_the_day_are_given_up_from_the_end() -> None:
    visits = _visits([1.0] * 3, [100.0, 139.0, 5.0], [np.nan] * 3)
    travel = Travel(np.array([[1000.0, 0.0]] * 3 + [[0.0, 0.0]]), 1.0)
    # 1 + 100 + 139 leave nothing for the way home; the third would fit, but comes after the second
    rooms, over = crew_days_of(visits, [(0, 0)] * 3, [team("A", place=3)], np.array([np.nan]), travel, 1000.0)
    assert over == [1, 2]
    assert rooms[0, 0].promised == [0]


def test_dropped_promises_are_counted_and_named_by_reason() -> None:
    dropped = pd.DataFrame(
        {"core_id": ["HV-2", "HV-1", "HV-3"], "why": ["the crew is gone", "the crew is gone", "the day is past"]}
    )
    assert dropped_notices(dropped) == [
        '2 promised stops could not be kept and, where the core is still open, planned again (the crew is gone): "HV-1", "HV-2".',
        '1 promised stop could not be kept and, where the core is still open, planned again (the day is past): "HV-3".',
    ]


def test_many_dropped_promises_are_named_in_part() -> None:
    dropped = pd.DataFrame({"core_id": [f"HV-{number:02}" for number in range(12)], "why": "x"})
    assert dropped_notices(dropped)[0].endswith('"HV-09" and 2 more.')


def test_a_promise_at_a_core_without_an_id_is_dropped_among_the_others() -> None:
    """Neither core has work left; the register has no id for the second."""
    cores = pd.DataFrame({"core_id": ["HV-0", None]})
    stops = pd.DataFrame({"crew": "A", "day": pd.Timestamp("2026-10-02"), "stop": [1, 2], "mix": [None, None]})
    none = promises_of(
        stops, cores, jobs().iloc[:0], np.ones((0, 3), dtype=bool), [team("A")], np.ones((1, 3), dtype=bool), DAYS
    )
    assert none.dropped["core_id"].tolist() == ["HV-0", ""]
    (said,) = dropped_notices(none.dropped)
    assert said.startswith("2 promised stops could not be kept")
    assert said.endswith(': "", "HV-0".')
