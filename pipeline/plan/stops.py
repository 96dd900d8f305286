"""The tables of the plan from the routes of each crew's days."""

from typing import Any, Final

import numpy as np
import pandas as pd

from pipeline.contracts import PLAN_TABLES, names_of
from pipeline.plan.crews import Days, Team
from pipeline.plan.mixes import MixRules, whole_bags
from pipeline.plan.schedule import Route
from pipeline.plan.travel import Floats
from pipeline.plan.visits import Group
from pipeline.plan.weather import Curing

__all__ = ["stops_of", "typed"]


def stops_of(
    jobs: pd.DataFrame,
    groups: list[Group],
    load_kg: Floats,
    routes: list[Route],
    teams: list[Team],
    days: Days,
    curing: Curing,
    metres_per_min: float,
    rules: MixRules,
    water_l: float,
    *,
    waits: bool,
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Return the stops, the mixes and the crew days; ``water_l`` is the water of one bag."""
    stops: list[dict[str, Any]] = []
    mixes: list[dict[str, Any]] = []
    crew_days: list[dict[str, Any]] = []
    net = jobs["net_bags"].to_numpy(float)
    shade = jobs["shade"].to_numpy()
    for route in sorted(routes, key=lambda one: (one.day, teams[one.team].crew.name)):
        team, day = teams[route.team], pd.Timestamp(days[route.day])
        at = float(team.crew.shift[0])
        half, rest = sum(team.crew.shift) / 2, team.crew.break_min or 0.0
        head = {"crew": team.crew.name, "day": day}
        mine: list[dict[str, Any]] = []
        metres = minutes = 0.0
        for number, hop in zip(route.visits, route.hops_m[:-1].tolist(), strict=True):
            group = groups[number]
            if rest and at >= half:
                at, rest = at + rest, 0.0
            metres, minutes, at = metres + hop, minutes + hop / metres_per_min, at + hop / metres_per_min
            is_mixed = group.opened.sum() > 0
            cure = curing.cure_min[route.day]
            end = at + group.times.worked
            if is_mixed and waits:
                end = max(end, at + group.times.pressed[-1] + cure)
            if is_mixed:
                mixes.append(_mix(len(mixes) + 1, head, group, net, str(shade[group.members[0]]), rules))
            for place_in_mix, member in enumerate(group.members):
                walk = 0.0 if place_in_mix == 0 else float(group.walks_m[place_in_mix - 1])
                pressed = at + group.times.pressed[place_in_mix]
                mine.append(
                    {
                        **head,
                        "job": member,
                        "stop": len(mine) + 1,
                        "arrival_min": at + group.times.arrival[place_in_mix],
                        "pour_min": at + group.times.pour[place_in_mix],
                        "traffic_min": pressed + cure if is_mixed else np.nan,
                        "leave_min": end if place_in_mix == len(group.members) - 1 else pressed,
                        "travel_m": hop if place_in_mix == 0 else walk,
                        "travel_min": hop / metres_per_min if place_in_mix == 0 else walk / rules.walking_m_min,
                        "mix": len(mixes) if is_mixed else None,
                        "bags": group.opened[place_in_mix],
                        "water_l": group.opened[place_in_mix] * water_l,
                        "air_c": curing.air_c[route.day],
                        "air_from": curing.air_from[route.day],
                        "late_days": max((day - jobs["due_on"].iloc[member]).days, 0)
                        if pd.notna(jobs["due_on"].iloc[member])
                        else 0,
                    }
                )
            at = end
        at += rest
        home = float(route.hops_m[-1])
        bags = sum(float(one["bags"]) for one in mine)
        crew_days.append(
            {
                **head,
                "stops": len(mine),
                "start_min": float(team.crew.shift[0]),
                "end_min": at + home / metres_per_min,
                "shift_start_min": float(team.crew.shift[0]),
                "shift_end_min": float(team.crew.shift[1]),
                "break_min": team.crew.break_min or 0.0,
                "work_min": at - team.crew.shift[0] - minutes - (team.crew.break_min or 0.0),
                "travel_min": minutes + home / metres_per_min,
                "travel_m": metres + home,
                "bags": bags,
                "load_kg": float(load_kg[route.visits].sum()),
                "carries_kg": team.crew.carries_kg,
            }
        )
        stops += mine
    return (
        _stops(pd.DataFrame(stops), jobs),
        typed("mixes", pd.DataFrame(mixes)),
        typed("days", pd.DataFrame(crew_days)),
    )


def _mix(number: int, head: dict[str, Any], group: Group, net: Floats, shade: str, rules: MixRules) -> dict[str, Any]:
    return {
        "mix": number,
        **head,
        "shade": shade,
        "cores": len(group.members),
        "net_bags": float(net[group.members].sum()),
        "alone": sum(whole_bags(net[member], rules.smallest) for member in group.members),
        "bags": float(group.opened.sum()),
        "span_min": group.times.span,
    }


def _stops(stops: pd.DataFrame, jobs: pd.DataFrame) -> pd.DataFrame:
    own = ["row", "core_id", "task", "district", "shade", "net_bags", "gravel_kg", "urgency", "due_on", "due_by"]
    own += ["permit_until"]
    if stops.empty:
        return typed("stops", jobs.iloc[:0][own])
    at = stops["job"].to_numpy(int)
    given = {str(name): stops[name].to_numpy() for name in stops if name != "job"}
    table = jobs.iloc[at][own].assign(**given, is_kept=False)
    table["needs_permit"] = table["permit_until"].lt(pd.to_datetime(table["day"]))
    return typed("stops", table.assign(shade=table["shade"].where(table["task"].eq("reinstate"))))


_KINDS: Final[dict[str, Any]] = {
    "text": "str",
    "number": "float64",
    "integer": "Int64",
    "boolean": "bool",
    "day": "datetime64[us]",
}


def typed(name: str, table: pd.DataFrame) -> pd.DataFrame:
    """Return one table of the plan with its columns, each of its kind."""
    columns = PLAN_TABLES[name]
    kinds = {column.name: _KINDS[column.kind] for column in columns}
    return table.reindex(columns=list(names_of(columns))).astype(kinds)
