"""Plan: which crew puts back which core on which day, in which order, from which mix."""

import datetime as dt
from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
from pyproj import CRS, Transformer

from pipeline.contracts import Temperatures
from pipeline.plan.bounds import Planned, Weights, bounds_of
from pipeline.plan.checker import Tables
from pipeline.plan.crews import Bools, Team, crew_table, horizon, shift_of, teams_of, working
from pipeline.plan.due import moved_to_working_days, weights_in_force
from pipeline.plan.jobs import jobs_of
from pipeline.plan.legs import Travelled, Ways, travelled
from pipeline.plan.minutes import minutes_in_force, minutes_of, times_between
from pipeline.plan.mixes import MixRules, mix_groups
from pipeline.plan.not_planned import able_crews, not_planned_of
from pipeline.plan.notices import plan_notices
from pipeline.plan.proofs import checked
from pipeline.plan.schedule import Route, Visits, schedule, shared_teams
from pipeline.plan.slots import Slots, slots_of
from pipeline.plan.stops import stops_of, typed
from pipeline.plan.travel import Floats, Travel, travel_of
from pipeline.plan.visits import Group, groups_of, late_minutes, visits_of
from pipeline.plan.weather import Supplier, curing_of
from pipeline.programme.catalogue import Grout
from pipeline.programme.plan_defaults import PlanDefaults
from pipeline.programme.settings import Settings

__all__ = ["Plan", "Supplier", "plan"]

_METRES_PER_KM: Final = 1000.0
_MINUTES_PER_HOUR: Final = 60.0
_WEIGHTS: Final = Weights(bag_min=30.0, day_min=30.0, left_out_min=300.0)


class Plan(NamedTuple):
    """The plan: each table as PLAN_TABLES describes it; ``stops`` is on the index of the cores.

    ``travel``: what the crews travel. ``ways``: the lines that they travel, for a map. ``notices``: what the reader of
    the plan has to know, in sentences.
    """

    stops: pd.DataFrame
    mixes: pd.DataFrame
    days: pd.DataFrame
    not_planned: pd.DataFrame
    bounds: pd.DataFrame
    crews: pd.DataFrame
    minutes: pd.DataFrame
    faults: pd.DataFrame
    travel: Travelled
    ways: Ways
    notices: list[str]


def plan(
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    settings: Settings,
    grout: Grout,
    supplier: Supplier,
    as_of: dt.date,
    crs: CRS,
    defaults: PlanDefaults,
    temperatures: Temperatures | None = None,
) -> Plan:
    """Plan the work at the open cores, and at those with a hazard.

    Parameters
    ----------
    cores
        N rows: the columns of the contract, ``urgency``, and ``allowed_days`` (how long the rules let a core be open).
    segments
        The road segments, as ``pipeline.plan.travel`` takes them.
    settings
        The programme's plan, crews, orders and holidays.
    grout
        The bag and its water.
    supplier
        What the grout needs before traffic, and the temperatures between which it is poured.
    as_of
        The day of the audit.
    crs
        The run's CRS, in which positions of yards are found.
    defaults
        What holds where the programme sets nothing and its registers show nothing.
    temperatures
        The forecast and the seasonal table; None: not known.
    """
    planning, ordering = settings.plan, settings.orders
    days = horizon(planning.start, as_of, planning.horizon_days)
    curing = curing_of(days, temperatures, supplier, shift_of(settings.crews))
    weights = weights_in_force(planning.weights, defaults.weights)
    jobs = jobs_of(cores[~cores["is_copy"]], days, curing.pours, planning.no_work, weights, pd.Timestamp(as_of))
    metres_per_min = planning.speed_km_h * _METRES_PER_KM / _MINUTES_PER_HOUR
    times = times_between(cores, defaults.learning, metres_per_min, planning.detour, waits=planning.waits)
    force = minutes_in_force(times, planning.minutes, defaults)
    frame = jobs.frame.join(minutes_of(jobs.frame, force))
    yards = _in_crs(planning.yards, crs)
    teams = teams_of(settings.crews, frame, ordering, yards, defaults.rest.minutes)
    works = np.array([working(team.crew, days, settings.programme.holidays) for team in teams]).reshape(-1, len(days))
    travel = travel_of(segments, cores.loc[frame.index], _starts(teams), planning.gap_m, planning.detour)
    rules = MixRules(
        ordering.working_time_min, ordering.speed_km_h * _METRES_PER_KM / _MINUTES_PER_HOUR, ordering.smallest_mix
    )
    frame["due_on"], moved = moved_to_working_days(frame, able_crews(frame, teams).fits, works, days)
    late = late_minutes(frame, days)
    waits = curing.cure_min if planning.waits else np.full(len(days), np.nan)
    groups: list[Group] = []
    loads: list[Floats] = []
    routes: list[Route] = []
    for together in shared_teams(teams):
        mine = [teams[at] for at in together]
        here = np.flatnonzero(frame["district"].isin({name for team in mine for name in team.districts}))
        near = travel.among(np.concatenate([here, [team.place for team in mine]]))
        slots = slots_of(frame.iloc[here], jobs.allowed[here], mine, works[together])
        visits, own = _visits(frame, jobs.allowed, late, here, slots, near, rules, grout)
        found = schedule(
            visits, mine, works[together], days, waits, near, metres_per_min, planning.iterations, planning.seed
        )
        routes += [
            one._replace(team=together[one.team], visits=[len(groups) + at for at in one.visits]) for one in found
        ]
        groups += own
        loads.append(visits.frame["load_kg"].to_numpy(float))
    stops, mixes, crew_days = stops_of(
        frame,
        groups,
        np.concatenate([np.empty(0), *loads]),
        routes,
        teams,
        days,
        curing,
        metres_per_min,
        rules,
        grout.water_per_bag.value,
        waits=planning.waits,
    )
    legs = travelled(travel, routes, groups, np.array([team.place for team in teams]), planning.gap_m)
    crews, bag_kg = _crews(teams, works, crs), grout.bag.value + grout.water_per_bag.value
    made = Tables(stops, mixes, crew_days, crews)
    wait_min = float(np.nanmin(waits)) if planning.waits else 0.0
    left = not_planned_of(jobs, frame, stops, teams, works, days, curing, wait_min, bag_kg)
    planned = Planned(frame, jobs.allowed, late, teams, works, days, waits, travel, rules)
    return Plan(
        stops,
        mixes,
        crew_days,
        typed("not_planned", left),
        typed("bounds", bounds_of(planned, _WEIGHTS, stops, crew_days)),
        crews,
        typed("minutes", force.table),
        checked(made, frame, jobs.allowed, teams, works, days, rules, bag_kg, curing),
        legs,
        Ways(travel, frame.index, {team.crew.name: team.place for team in teams}),
        [*plan_notices(frame, stops, teams, works, days, curing, moved), *legs.notices()],
    )


def _visits(
    frame: pd.DataFrame,
    allowed: Bools,
    late: Floats,
    here: np.ndarray,
    slots: Slots,
    travel: Travel,
    rules: MixRules,
    grout: Grout,
) -> tuple[Visits, list[Group]]:
    """Return the visits to some of the jobs, and their groups by positions in ``frame``."""
    mine = frame.iloc[here]
    sets = mix_groups(mine, slots, late[here], travel, rules)
    groups = groups_of(mine, sets, travel, rules)
    visits = visits_of(mine, groups, allowed[here], late[here], grout.bag.value, grout.water_per_bag.value)
    return visits, [group._replace(members=here[group.members].tolist()) for group in groups]


def _starts(teams: list[Team]) -> Floats:
    return np.array([team.start for team in teams], dtype=float).reshape(-1, 2)


def _in_crs(yards: dict[str, tuple[float, float]], crs: CRS) -> dict[str, tuple[float, float]]:
    to_crs = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    return {name: to_crs.transform(*position) for name, position in yards.items()}


def _crews(teams: list[Team], works: Bools, crs: CRS) -> pd.DataFrame:
    x, y = _starts(teams).T
    lon, lat = Transformer.from_crs(crs, "EPSG:4326", always_xy=True).transform(x, y)
    return typed("crews", crew_table(teams, works, lon, lat))
