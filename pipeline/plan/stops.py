"""The tables of the plan from the routes of each crew's days."""

from typing import Any, Final

import numpy as np
import pandas as pd

from pipeline.contracts import PLAN_TABLES, names_of
from pipeline.plan.crews import Team
from pipeline.plan.mixes import MixRules
from pipeline.plan.schedule import Route
from pipeline.plan.timing import begin_times
from pipeline.plan.visits import Groups
from pipeline.plan.weather import Curing
from pipeline.plan.work import Routes, Work

__all__ = ["stops_of", "typed"]

# a sum that misses a whole bag by a rounding error is that whole bag
_DIGITS: Final = 9
_OF_JOB: Final = [
    "row", "core_id", "task", "district", "shade", "net_bags", "gravel_kg", "urgency", "due_on", "due_by",
    "permit_until",
]  # fmt: skip


def stops_of(
    work: Work, routes: Routes, curing: Curing, *, waits: bool
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Return the stops, on the index of the cores, the mixes and the crew days."""
    if not routes.routes:
        nothing = typed("mixes", pd.DataFrame()), typed("days", pd.DataFrame())
        return typed("stops", work.jobs.iloc[:0][_OF_JOB]), *nothing
    ordered = sorted(routes.routes, key=lambda one: (one.day, work.teams[one.team].crew.name))
    visits = _visits(work, routes, ordered, curing, waits=waits)
    groups = routes.groups.of(visits["group"].to_numpy())
    stops = _stops(work, groups, visits, curing)
    days = _days(visits, ordered, work.teams, work.metres_per_min)
    return typed("stops", stops), _mixes(stops, visits, groups, work.rules), days


def _visits(work: Work, made: Routes, routes: list[Route], curing: Curing, *, waits: bool) -> pd.DataFrame:
    """Return the visits of all routes, in order, with the minutes at which each begins and ends."""
    number = np.concatenate([route.visits for route in routes])
    mine = made.groups.of(number)
    visits = pd.DataFrame(
        {
            "route": np.repeat(np.arange(len(routes)), [len(route.visits) for route in routes]),
            "group": number,
            "hop_m": np.concatenate([route.hops_m[:-1] for route in routes]),
            "day_number": np.repeat([route.day for route in routes], [len(route.visits) for route in routes]),
            "cores": mine.sizes,
            "bags": mine.bags(),
            "load_kg": made.load_kg[number],
            "worked_min": mine.worked,
            "pressed_min": mine.pressed[mine.last],
        }
    )
    cure = curing.cure_min[visits["day_number"]] if waits else np.nan
    visits["mix"] = visits["bags"].gt(0).cumsum().where(visits["bags"].gt(0))
    visits["work_min"] = np.fmax(visits["worked_min"], (visits["pressed_min"] + cure).where(visits["mix"].notna()))
    hops, takes = visits["hop_m"].to_numpy(float) / work.metres_per_min, visits["work_min"].to_numpy(float)
    firsts = np.cumsum([0, *(len(route.visits) for route in routes)])
    crews = [work.teams[route.team].crew for route in routes]
    hours = [work.teams[route.team].hours_on(route.day) for route in routes]
    begins = [
        begin_times(hops[at:to], takes[at:to], own, crew.break_min or 0.0)
        for at, to, own, crew in zip(firsts[:-1], firsts[1:], hours, crews, strict=True)
    ]
    visits["begin_min"] = np.concatenate(begins)
    visits["crew"] = [crews[at].name for at in visits["route"]]
    return visits.assign(day=work.days[visits["day_number"]].astype("datetime64[s]"))


def _stops(work: Work, groups: Groups, visits: pd.DataFrame, curing: Curing) -> pd.DataFrame:
    """Return one row for each core, on the index of the cores, in the order of the routes; ``groups``: the visits'."""
    visit = np.repeat(np.arange(len(visits)), groups.sizes)
    of_visit = visits.iloc[visit].reset_index(drop=True)
    begin = of_visit["begin_min"].to_numpy(float)
    is_first = pd.Series(visit).diff().ne(0).to_numpy()
    is_last = np.append(is_first[1:], True)
    is_mixed = of_visit["mix"].notna().to_numpy()
    walks_m, opened, pressed = groups.walk_m, groups.opened, begin + groups.pressed
    hop_m = of_visit["hop_m"].to_numpy(float)
    table = work.jobs.iloc[groups.job]
    day = of_visit["day"].to_numpy()
    on = of_visit["day_number"].to_numpy()
    late = (pd.Series(day, table.index) - table["due_on"]).dt.days.clip(lower=0).fillna(0)
    return table[_OF_JOB].assign(
        crew=of_visit["crew"].to_numpy(),
        day=day,
        stop=of_visit.groupby("route").cumcount().to_numpy() + 1,
        arrival_min=begin + groups.arrival,
        pour_min=begin + groups.pour,
        traffic_min=np.where(is_mixed, pressed + curing.cure_min[on], np.nan),
        leave_min=np.where(is_last, begin + of_visit["work_min"].to_numpy(float), pressed),
        travel_m=np.where(is_first, hop_m, walks_m),
        travel_min=np.where(is_first, hop_m / work.metres_per_min, walks_m / work.rules.walking_m_min),
        shade=table["shade"].where(table["task"].eq("reinstate")),
        mix=of_visit["mix"].to_numpy(),
        bags=opened,
        water_l=opened * work.water_kg,
        late_days=late,
        needs_permit=table["permit_until"].lt(pd.Series(day, table.index)),
        air_c=curing.air_c[on],
        air_from=np.array(curing.air_from, dtype=object)[on],
        is_kept=False,
    )


def _mixes(stops: pd.DataFrame, visits: pd.DataFrame, groups: Groups, rules: MixRules) -> pd.DataFrame:
    mixed = stops[stops["mix"].notna()]
    alone = np.ceil((mixed["net_bags"] / rules.smallest).round(_DIGITS)) * rules.smallest
    by_mix = mixed.assign(alone=alone).groupby("mix", sort=True, as_index=False)
    table = by_mix.agg(
        crew=("crew", "first"),
        day=("day", "first"),
        shade=("shade", "first"),
        cores=("core_id", "size"),
        net_bags=("net_bags", "sum"),
        alone=("alone", "sum"),
        bags=("bags", "sum"),
    )
    return typed("mixes", table.assign(span_min=groups.span[visits["mix"].notna()]))


def _days(visits: pd.DataFrame, routes: list[Route], teams: list[Team], metres_per_min: float) -> pd.DataFrame:
    cores = visits.groupby("route", sort=True)
    crews = [teams[route.team].crew for route in routes]
    travel_m = np.array([route.hops_m.sum() for route in routes])
    shift_start, shift_end = np.array([crew.shift for crew in crews], dtype=float).T
    start = np.array([teams[route.team].hours_on(route.day)[0] for route in routes])
    pause = np.array([crew.break_min or 0.0 for crew in crews])
    work = cores["work_min"].sum().to_numpy(float)
    return typed(
        "days",
        pd.DataFrame(
            {
                "crew": cores["crew"].first(),
                "day": cores["day"].first(),
                "stops": cores["cores"].sum(),
                "start_min": start,
                "end_min": start + pause + work + travel_m / metres_per_min,
                "shift_start_min": shift_start,
                "shift_end_min": shift_end,
                "break_min": pause,
                "work_min": work,
                "travel_min": travel_m / metres_per_min,
                "travel_m": travel_m,
                "bags": cores["bags"].sum(),
                "load_kg": cores["load_kg"].sum(),
                "carries_kg": [crew.carries_kg for crew in crews],
                "wait_min": work - cores["worked_min"].sum().to_numpy(float),
            }
        ).reset_index(drop=True),
    )


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
