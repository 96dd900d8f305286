"""Plans whose groups of crews are worked on elsewhere: the same in every table as those made here."""

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from pandas.testing import assert_frame_equal

import pipeline.planned
from pipeline.commands.plan import plan_again
from pipeline.contracts import PLAN_TABLES
from pipeline.plan import Plan, plan, shares
from tests.plan.sending import Sending, ToAnotherProcess

_PROGRAMME = Path(__file__).parents[2] / "sample_data" / "programme.toml"


class _AskedError(Exception):
    """Ends a run where its plan would be made."""


@pytest.fixture(scope="module")
def asked(demo: Any, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Return what the demo's plan is made from, by name, with few iterations."""
    seen: dict[str, Any] = {}
    names = plan.__code__.co_varnames

    def remember(*args: object) -> Plan:
        seen.update(zip(names, args, strict=False))
        raise _AskedError

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline.planned, "plan", remember)
        with pytest.raises(_AskedError):
            plan_again(demo.folder, _PROGRAMME, out=tmp_path_factory.mktemp("planned") / "plan")
    seen.pop("told"), seen.pop("engine")
    planning = seen["settings"].plan.model_copy(update={"iterations": 40})
    return {**seen, "settings": seen["settings"].model_copy(update={"plan": planning})}


def _without_crews(asked: dict[str, Any]) -> dict[str, Any]:
    """Let each district have its own crew, so that there are as many groups."""
    return {**asked, "settings": asked["settings"].model_copy(update={"crews": []})}


def _promised(asked: dict[str, Any]) -> dict[str, Any]:
    """Promise each crew's first day in reverse, and for its last day more than it has room for."""
    apart = _without_crews(asked)
    stops = plan(**apart).stops.sort_values(["crew", "day", "stop"])
    first, last = (stops.groupby("crew")["day"].transform(end) for end in ("min", "max"))
    early = stops[stops["day"].eq(first)]
    early = early.assign(stop=early.groupby("crew")["stop"].transform("max") + 1 - early["stop"])
    more = stops[stops["day"].gt(first)]
    more = more.assign(day=last[more.index], stop=np.arange(len(more)) + 1, mix=np.nan)
    return {**apart, "kept": pd.concat([early, more])[["crew", "day", "stop", "mix"]]}


def _without_roads(asked: dict[str, Any]) -> dict[str, Any]:
    return {**_without_crews(asked), "segments": asked["segments"].iloc[:0]}


def _off_roads(asked: dict[str, Any]) -> dict[str, Any]:
    """Take every third core off its road segment, and some far from all roads."""
    cores = asked["cores"].copy()
    lost = np.arange(len(cores)) % 3 == 0
    cores.loc[lost, "segment"] = -1
    cores.loc[lost, ["chainage_m", "offset_m"]] = np.nan
    cores.loc[lost & (np.arange(len(cores)) % 7 == 0), "x_m"] += 900.0
    return {**_without_crews(asked), "cores": cores}


def _far_apart(asked: dict[str, Any]) -> dict[str, Any]:
    """Lay the roads and cores of the east 30 km away, with crews that serve districts on both sides."""
    cores, roads = asked["cores"].copy(), asked["segments"].copy()
    middle = cores["x_m"].median()
    is_east = roads.geometry.bounds["minx"].gt(middle)
    roads.loc[is_east, roads.geometry.name] = roads.geometry[is_east].translate(30_000.0)
    lies_there = cores["segment"].ge(0) & is_east.reindex(roads.index).to_numpy()[cores["segment"].clip(lower=0)]
    cores.loc[lies_there, "x_m"] += 30_000.0
    return {**asked, "cores": cores, "segments": roads}


def _tables(made: Plan) -> dict[str, pd.DataFrame]:
    return {name: getattr(made, name) for name in PLAN_TABLES}


def _agree(given: dict[str, Any], engine: Sending) -> Plan:
    here, there = plan(**given), plan(**given, engine=engine)
    assert len(here.stops)
    for name, table in _tables(here).items():
        assert_frame_equal(_tables(there)[name], table, check_exact=True, obj=name)
    assert there.notices == here.notices
    assert repr(there.travel) == repr(here.travel)
    return here


@pytest.mark.parametrize("of", [dict, _without_crews, _without_roads, _off_roads, _far_apart])
def test_plans_made_elsewhere_are_the_same(asked: dict[str, Any], of: Any) -> None:
    engine = Sending()
    _agree(of(asked), engine)
    # the routes and the bounds of several groups of crews
    assert [len(sent) > 1 for sent in engine.sent] == [True, True]


def test_promises_are_kept_and_dropped_elsewhere_as_here(asked: dict[str, Any]) -> None:
    made = _agree(_promised(asked), Sending())
    assert made.stops["is_kept"].sum() > 10
    assert any("has no room for it any more" in notice for notice in made.notices)


def test_plans_made_in_another_process_are_the_same(asked: dict[str, Any]) -> None:
    _agree(_without_crews(asked), ToAnotherProcess())


def test_a_share_holds_no_more_than_it_needs(asked: dict[str, Any]) -> None:
    engine = Sending()
    plan(**_without_crews(asked), engine=engine)
    assert max(engine.sent[0]) < 400_000


def test_what_needs_more_roads_than_may_be_sent_is_worked_on_here(
    asked: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shares, "_MOST_NODES", 0)
    engine = Sending()
    _agree(_without_crews(asked), engine)
    # bounds need no roads
    assert len(engine.sent) == 1


def test_a_share_whose_paths_lead_out_of_its_roads_is_sent_with_more(
    asked: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shares, "_WIDER", (0.01, 0.1, 4.0))
    engine = Sending()
    _agree(_without_crews(asked), engine)
    assert engine.again > 0
