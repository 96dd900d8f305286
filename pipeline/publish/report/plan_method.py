"""How the plan was made: its objective and bounds, crews, minutes, travel, and what its check found."""

from typing import Any, Final

import pandas as pd
from markupsafe import Markup

from pipeline.publish.report.names import LONGEST_NAME
from pipeline.publish.words import Words
from pipeline.results import RunResult
from pipeline.units import convert

__all__ = ["plan_method"]

_METRES_PER_KM: Final = 1000.0
_METRES_PER_MILE: Final = 1609.344
_MINUTES_PER_HOUR: Final = 60
# a size or surface that is not told apart
_ALL: Final = "all"
# faults shown; more than a few mean that the plan has to be made again
_MOST_FAULTS: Final = 20


def plan_method(result: RunResult, words: Words) -> dict[str, Any]:
    """Return the values for the template's account of how the plan was made."""
    plan, settings = result.plan, result.settings
    return {
        "plan_objective": _objective(plan.objective, words),
        "plan_bounds": _bounds(plan.bounds, words),
        "plan_crew_rows": _crews(plan.crews, settings.orders.units, words),
        "plan_default_crews": int(plan.crews["origin"].eq("default").sum()),
        **_minutes(plan.minutes, words),
        "plan_model": words.say(
            "planned.model_waits" if settings.plan.waits else "planned.model_leaves",
            working=words.measure(settings.orders.working_time_min),
            walking=words.measure(settings.orders.speed_km_h),
            driving=words.measure(settings.plan.speed_km_h),
        ),
        "plan_waiting": _waiting(plan.days, words) if settings.plan.waits else "",
        "plan_travel": _travel(result, words),
        "plan_notices": [words.own(line) for line in plan.notices],
        "plan_faults": [
            {name: words.own(row[name]) for name in ("check", "crew", "core_id", "fault")}
            | {"day": words.date(row["day"].date()) if pd.notna(row["day"]) else ""}
            for row in plan.faults.head(_MOST_FAULTS).to_dict("records")
        ],
        "plan_faults_left": max(len(plan.faults) - _MOST_FAULTS, 0),
    }


def _minutes(minutes: pd.DataFrame, words: Words) -> dict[str, Any]:
    """Return the minutes with a row per step and origin, and a column per size and surface that is told apart."""

    def distinct(name: str) -> list[str]:
        return [str(text) for text in minutes[name].drop_duplicates() if text != _ALL] or [_ALL]

    kinds = [(size, surface) for size in distinct("size") for surface in distinct("surface")]
    rows = []
    for (step, origin), mine in minutes.groupby(["step", "origin"], sort=False):
        cells = []
        for size, surface in kinds:
            here = mine[mine["size"].isin([size, _ALL]) & mine["surface"].isin([surface, _ALL])]
            cells.append(words.measure(here["minutes"].iloc[0]) if len(here) else "")
        learnt = int(mine["cores"].sum())
        rows.append(
            {
                "step": words.own(words.translated(str(step))),
                "minutes": cells,
                "origin": words.own(words.translated(str(origin))),
                "cores": words.number(learnt) if learnt else "",
            }
        )
    heads = [[words.own(words.translated(text)) for text in kind] for kind in kinds]
    return {"plan_minutes": rows, "plan_minutes_heads": heads}


def _waiting(days: pd.DataFrame, words: Words) -> Markup | str:
    """Return how much of the crews' time is spent waiting for traffic; nothing where none is."""
    waited, spent = (float(days[name].sum()) for name in ("wait_min", "work_min"))
    if not waited:
        return ""
    hours = [words.number(round(minutes / _MINUTES_PER_HOUR)) for minutes in (waited, spent)]
    return words.say("planned.waiting", waited=hours[0], hours=hours[1], share=words.percent(waited / spent))


def _objective(objective: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    return [
        {
            "part": words.own(words.translated(str(row["part"]))),
            "value": words.measure(round(row["value"], 1)) if pd.notna(row["value"]) else "",
            "unit": words.own(words.translated(str(row["unit"]))) if pd.notna(row["unit"]) else "",
            "weight": words.measure(row["weight"]) if pd.notna(row["weight"]) else "",
            "minutes": words.number(row["minutes"]),
        }
        for row in objective.to_dict("records")
    ]


def _bounds(bounds: pd.DataFrame, words: Words) -> list[dict[str, Any]]:
    return [
        {
            "measure": words.own(words.translated(str(row["measure"]))),
            "planned": words.measure(round(row["planned"], 1)),
            "bound": words.measure(round(row["bound"], 1)),
            "gap": words.percent(row["gap"], 1) if pd.notna(row["gap"]) else "",
            "relaxed": words.own(words.translated(str(row["relaxed"]))),
        }
        for row in bounds.to_dict("records")
    ]


def _crews(crews: pd.DataFrame, units: str, words: Words) -> list[dict[str, Any]]:
    return [
        {
            "crew": words.own(row["crew"], LONGEST_NAME),
            "start": words.own(row["starts_from"], LONGEST_NAME),
            "shift": words.say(
                "planned.shift", first=_clock(row["shift_start_min"]), last=_clock(row["shift_end_min"]),
                rest=words.measure(row["break_min"]),
            ),
            "carries": _weight(row["carries_kg"], units, words),
            "districts": words.own(row["districts"]) if row["districts"] else words.say("planned.all"),
            "surfaces": words.own(row["surfaces"]) if row["surfaces"] else words.say("planned.all"),
            "days": words.number(row["work_days"]),
            "origin": words.own(words.translated(str(row["origin"]))),
        }
        for row in crews.fillna({"districts": "", "surfaces": "", "starts_from": ""}).to_dict("records")
    ]  # fmt: skip


def _clock(minutes: float) -> str:
    return f"{int(minutes) // _MINUTES_PER_HOUR:02d}:{int(minutes) % _MINUTES_PER_HOUR:02d}"


def _weight(kilograms: float, units: str, words: Words) -> Markup:
    if units == "us":
        return words.say("unit.lb", v=words.number(float(convert(kilograms, "kg", "lb"))))
    return words.say("unit.kg", v=words.number(kilograms))


def _travel(result: RunResult, words: Words) -> Markup | None:
    """Return what the crews travel; None for a plan without a stop."""
    travel = result.plan.travel
    if not travel.legs:
        return None
    if result.settings.orders.units == "us":
        length = words.say("unit.mi", v=words.number(travel.metres / _METRES_PER_MILE))
    else:
        length = words.say("unit.km", v=words.number(travel.metres / _METRES_PER_KM))
    ratio = "" if pd.isna(travel.ratio) else words.say("planned.ratio", ratio=words.measure(round(travel.ratio, 2)))
    return words.say("planned.travel", n=travel.legs, length=length, straight=travel.straight_legs, ratio=ratio)
