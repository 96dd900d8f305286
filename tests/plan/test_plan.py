"""The plan of a small town, made again with its rows in another order, and with what was promised."""

import datetime as dt
import inspect
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from pandas.testing import assert_frame_equal

import pipeline.planned
import pipeline.run
from pipeline.contracts import Temperatures
from pipeline.plan import Plan, plan
from pipeline.programme.plan import NoWork
from tests.small_town import write_town

ROWS = 14


class _PlanMadeError(Exception):
    """Ends a run where its plan would be made."""


@pytest.fixture(scope="module")
def given(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Return what the plan of a town with fourteen open cores is made from, by name."""
    folder = tmp_path_factory.mktemp("town")
    path = write_town(folder, '[[crews]]\nname = "A"\nshift = ["07:00", "11:00"]\n[plan]\nhorizon = "21 day"\n')
    cores = pd.read_csv(folder / "cores.csv", dtype=str)
    number = np.arange(ROWS)
    town = pd.DataFrame({name: cores.loc[0, name] for name in cores}, index=number).assign(
        id=[f"HV-{at:02}" for at in number], lon=(-82.2 + number * 4e-4).astype(str), done="", bags=""
    )
    town.to_csv(folder / "cores.csv", index=False)
    seen: dict[str, Any] = {}

    def remember(*args: object, **named: object) -> Plan:
        seen["named"] = inspect.signature(plan).bind(*args, **named).arguments
        raise _PlanMadeError

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline.planned, "plan", remember)
        with pytest.raises(_PlanMadeError):
            pipeline.run.run_programme(Path(path))
    seen["planned"] = plan(**seen["named"])
    return seen


def again(given: dict[str, Any], **other: object) -> Plan:
    return plan(**{**given["named"], **other})  # type: ignore[arg-type]


def test_the_same_inputs_give_the_same_plan(given: dict[str, Any]) -> None:
    assert len(given["planned"].stops) == ROWS
    assert_frame_equal(again(given).stops, given["planned"].stops)


def test_open_cores_without_an_id_are_planned(given: dict[str, Any]) -> None:
    cores = given["named"]["cores"]
    nameless = cores.assign(core_id=cores["core_id"].where(cores["row"].gt(3)))
    planned = again(given, cores=nameless)
    assert len(planned.stops) == ROWS
    assert planned.stops["core_id"].isna().any()
    assert planned.faults.empty


def test_the_order_of_the_rows_changes_nothing(given: dict[str, Any]) -> None:
    cores = given["named"]["cores"]
    shuffled = again(given, cores=cores.sample(frac=1.0, random_state=3))
    assert_frame_equal(shuffled.stops, given["planned"].stops)
    assert_frame_equal(shuffled.days, given["planned"].days)


def test_without_an_open_core_there_is_nothing_to_plan(given: dict[str, Any]) -> None:
    settings = given["named"]["settings"]
    for crews in (settings.crews, []):
        none = again(
            given, cores=given["named"]["cores"].iloc[:0], settings=settings.model_copy(update={"crews": crews})
        )
        assert [len(table) for table in (none.stops, none.mixes, none.days, none.not_planned, none.faults)] == [0] * 5


def test_the_tables_of_the_plan_agree(given: dict[str, Any]) -> None:
    stops, mixes, days = given["planned"][:3]
    by_day = stops.groupby(["day", "crew"])
    assert by_day["bags"].sum().tolist() == days["bags"].tolist()
    assert by_day.size().tolist() == days["stops"].tolist()
    assert stops.groupby("mix")["bags"].sum().tolist() == mixes["bags"].tolist()
    assert not stops["is_kept"].any()
    assert (days["end_min"] <= days["shift_end_min"]).all()
    assert days["wait_min"].between(0, days["work_min"]).all()
    assert np.allclose(days["end_min"], days["start_min"] + days["break_min"] + days["work_min"] + days["travel_min"])
    # the way home follows the last stop
    assert (by_day["leave_min"].max().to_numpy() <= days["end_min"].to_numpy()).all()


def test_a_plan_that_is_kept_whole_stays_as_it_is(given: dict[str, Any]) -> None:
    stops = given["planned"].stops
    kept = again(given, kept=stops[["crew", "day", "stop", "mix"]])
    assert kept.stops["is_kept"].all()
    assert kept.notices == given["planned"].notices
    assert_frame_equal(kept.stops.drop(columns="is_kept"), stops.drop(columns="is_kept"))


def test_what_is_promised_stays_and_the_rest_is_planned_round_it(given: dict[str, Any]) -> None:
    stops = given["planned"].stops
    first = stops[stops["day"].eq(stops["day"].min())]
    last = first[first["mix"].eq(first["mix"].max())]
    # the last mix of the first day is promised alone, for the day after
    day = pd.Timestamp(stops["day"].min()) + pd.Timedelta(days=1)
    kept = last.assign(day=day, stop=range(1, len(last) + 1))[["crew", "day", "stop", "mix"]]
    planned = again(given, kept=kept).stops
    assert planned.index[planned["is_kept"]].sort_values().tolist() == sorted(kept.index)
    assert (planned.loc[kept.index, "day"] == day).all()
    assert planned.loc[kept.index, "stop"].tolist() == kept["stop"].tolist()
    assert sorted(planned.index) == sorted(stops.index)


def test_a_promise_of_a_crew_that_is_gone_is_dropped_with_a_notice(given: dict[str, Any]) -> None:
    stops = given["planned"].stops
    kept = stops[["crew", "day", "stop", "mix"]].head(1).assign(crew="Z")
    planned = again(given, kept=kept)
    assert not planned.stops["is_kept"].any()
    assert f'(the crew is no longer in the programme): "{stops["core_id"].iloc[0]}".' in planned.notices[-1]


@pytest.mark.parametrize("name", ["street", "road_class", "road_authority", "district"])
def test_days_are_closed_by_each_name_that_a_core_has(given: dict[str, Any], name: str) -> None:
    cores, settings = given["named"]["cores"], given["named"]["settings"]
    column = "street_matched" if name == "street" else name
    planning = settings.plan.model_copy(
        update={"no_work": [NoWork.model_validate({name: "Vale ", "to": dt.date(2026, 10, 8)})]}
    )
    named = cores.assign(**{column: pd.Series("vale", cores.index, dtype="str")})
    planned = again(given, cores=named, settings=settings.model_copy(update={"plan": planning}))
    assert planned.stops["day"].min() == pd.Timestamp("2026-10-09")


def test_days_are_closed_for_the_cores_in_no_district(given: dict[str, Any]) -> None:
    cores, settings = given["named"]["cores"], given["named"]["settings"]
    closed = NoWork.model_validate({"district": "(no district)", "to": dt.date(2026, 10, 8)})
    planning = settings.plan.model_copy(update={"no_work": [closed]})
    nowhere = cores.assign(district=pd.Series(None, cores.index, dtype="str"))
    planned = again(given, cores=nowhere, settings=settings.model_copy(update={"plan": planning}))
    assert planned.stops["day"].min() == pd.Timestamp("2026-10-09")


def test_progress_is_reported(given: dict[str, Any]) -> None:
    """Nothing is planned at first; the bounds come once, for the one crew, and are done at the end; each step is named in its turn."""
    told: list[tuple[Any, ...]] = []
    again(given, told=lambda text, done=0, total=0, unit="": told.append((text, done, total, unit)))
    counted = [update for update in told if update[2]]
    jobs = counted[0][2]
    assert counted[0] == ("crews' days", 0, jobs, "cores")
    assert counted[-2:] == [("bounds of the plan", done, jobs, "cores") for done in (0, jobs)]
    assert all(done <= jobs for _, done, _, _ in told)
    assert list(dict.fromkeys(text for text, *_ in told)) == [
        "jobs", "road network", "crews' days", "cores not planned", "bounds of the plan", "checks of the plan",
    ]  # fmt: skip


def test_on_days_too_cold_for_grout_crews_survey(given: dict[str, Any]) -> None:
    """At 1 degC nothing is poured; two cores whose surface nobody knows are looked at on the first day."""
    cores = given["named"]["cores"].copy()
    unknown = cores.index[:2]
    cores.loc[unknown, "surface"] = "unknown"
    cores.loc[unknown, ["bags", "net_bags"] if "net_bags" in cores else ["bags"]] = np.nan
    hour = pd.date_range("2026-09-01", "2026-12-31", freq="h")
    none = pd.DataFrame({"low_c": [], "high_c": []})
    forecast = Temperatures(
        pd.DataFrame({"at": hour, "air_c": 1.0}),
        none.assign(day=pd.to_datetime([])),
        none.assign(month=np.array([], dtype=int)),
    )
    made = again(given, cores=cores, temperatures=forecast)
    assert made.faults.empty
    assert dict(made.stops["task"]) == dict.fromkeys(unknown, "survey")
    assert made.stops["arrival_min"].min() < 9 * 60


def test_on_a_cold_morning_nothing_is_poured_before_it_is_warm_enough(given: dict[str, Any]) -> None:
    """From frost at night to 17 degC in the afternoon, every day."""
    hour = pd.date_range("2026-09-01", "2026-12-31", freq="h")
    air_c = 8.0 - 9.0 * np.cos((hour.hour - 3) * np.pi / 12)
    none = pd.DataFrame({"low_c": [], "high_c": []})
    forecast = Temperatures(
        pd.DataFrame({"at": hour, "air_c": air_c}),
        none.assign(day=pd.to_datetime([])),
        none.assign(month=np.array([], dtype=int)),
    )
    made = again(given, temperatures=forecast)
    poured = made.stops[made.stops["pour_min"].notna()]
    assert made.faults.empty
    assert len(poured)
    # 8 - 9 cos(75 degrees) = 5.7 degC at 08:00; at 07:00 it is 3.5 degC, below the least of 4.4 degC
    assert poured["pour_min"].min() >= 8 * 60
    assert set(made.stops["air_from"]) == {"forecast"}
