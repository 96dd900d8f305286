"""Plan: which crew puts back which core on which day, in which order, from which mix."""

import datetime as dt
from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
from pyproj import CRS, Transformer

from pipeline.clock import Told, silent
from pipeline.contracts import Temperatures
from pipeline.engines import HERE, Engine
from pipeline.plan.bounds import Weights, bounds_of
from pipeline.plan.checker import Tables
from pipeline.plan.crews import Bools, Days, Team, crew_table, horizon, shift_of, teams_of, with_hours, working
from pipeline.plan.due import moved_to_working_days, weights_in_force
from pipeline.plan.jobs import Jobs, jobs_of
from pipeline.plan.lateness import lateness_of
from pipeline.plan.legs import Travelled, Ways, travelled
from pipeline.plan.minutes import MinutesInForce, least_ready, minutes_in_force, minutes_of, times_between
from pipeline.plan.mixes import MixRules
from pipeline.plan.not_planned import crowded_out, not_planned_of
from pipeline.plan.notices import plan_notices
from pipeline.plan.objective import BAG_MIN, DAY_MIN, LEFT_OUT_MIN, objective_of
from pipeline.plan.promises import dropped_notices, no_promises, promises_of
from pipeline.plan.proofs import checked
from pipeline.plan.slots import able_crews
from pipeline.plan.stops import stops_of, typed
from pipeline.plan.travel import Floats, travel_of
from pipeline.plan.weather import ALL_DAY_MIN, Curing, Supplier, curing_of
from pipeline.plan.work import Routes, Work, routes_of
from pipeline.programme.catalogue import Grout
from pipeline.programme.plan import Planning
from pipeline.programme.plan_defaults import PlanDefaults
from pipeline.programme.settings import Settings

__all__ = ["Plan", "Supplier", "plan"]

_METRES_PER_KM: Final = 1000.0
_MINUTES_PER_HOUR: Final = 60.0
_WEIGHTS: Final = Weights(BAG_MIN, DAY_MIN, LEFT_OUT_MIN)


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
    objective: pd.DataFrame
    travel: Travelled
    ways: Ways
    notices: list[str]


# what the jobs are made from; all columns of a million cores would be copied otherwise
_READ: Final = (
    "row", "core_id", "x_m", "y_m", "district", "road_class", "road_authority", "street", "street_matched", "surface",
    "is_rigid", "shade", "reinstatable", "is_thin", "hole_mm", "depth_believed_mm", "bags", "bags_used", "gravel_kg",
    "is_open", "urgency", "allowed_days", "opened_on", "planned_on", "permit_expires_on", "resurfacing_due_on",
    "reinstated_at", "reopened_at", "crew",
)  # fmt: skip


# what their places in the road network are made from
_PLACED: Final = ("x_m", "y_m", "segment", "chainage_m", "offset_m")


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
    kept: pd.DataFrame | None = None,
    told: Told = silent,
    engine: Engine = HERE,
) -> Plan:
    """Plan the work at the open cores, and at those with a hazard.

    Parameters
    ----------
    cores, segments
        N rows: the columns of the contract, ``urgency``, ``allowed_days`` (to be open, by the rules); road segments.
    settings, grout, supplier
        The programme; the bag and its water; what the grout needs before traffic, and between what it is poured.
    as_of, crs
        The day of the audit; the run's CRS, in which positions of yards are found.
    defaults, temperatures
        What holds where the programme sets nothing; the forecast and the seasonal table (None: not known).
    kept, told, engine
        Promised stops, on the index of the cores: ``crew``, ``day``, ``stop``, ``mix`` (or None); progress; who works.
    """
    told("jobs")
    planning = settings.plan
    days = horizon(planning.first_day(as_of), planning.horizon_days)
    curing = curing_of(days, temperatures, supplier, shift_of(settings.crews))
    jobs, force = _jobs(cores.loc[~cores["is_copy"], list(_READ)], planning, defaults, curing, days, as_of)
    frame = jobs.frame
    wait_min = curing.cure_min if planning.waits else np.full(len(days), np.nan)
    teams, works = _teams(settings, frame, crs, defaults, curing, wait_min, days)
    frame["due_on"] = moved_to_working_days(frame, able_crews(frame, teams), works, days)
    told("road network")
    work = _work(cores, segments, jobs, settings, grout, wait_min, days, teams, works, kept)
    routes = routes_of(work, planning.iterations, planning.seed, told, engine)
    stops, mixes, crew_days = stops_of(work, routes, curing, waits=planning.waits)
    stops["is_kept"] = stops.index.isin(frame.index[routes.kept])
    legs = travelled(work.travel, routes.routes, routes.groups, work.starts, planning.gap_m)
    crews = _crews(teams, works, crs)
    left = _not_planned(work, jobs, stops, curing, told)
    return Plan(
        stops,
        mixes,
        crew_days,
        left,
        typed("bounds", bounds_of(work.planned, _WEIGHTS, stops, crew_days, routes.sets, told, engine)),
        crews,
        typed("minutes", force.table),
        _faults(Tables(stops, mixes, crew_days, crews), work, curing, told),
        typed("objective", objective_of(work.late, work.allowed, _day_numbers(stops, frame, days), crew_days)),
        legs,
        Ways(work.travel, frame.index, {team.crew.name: team.place for team in teams}),
        [*_notices(work, stops, curing, left, temperatures), *legs.notices(), *_dropped(work, routes)],
    )


def _faults(made: Tables, work: Work, curing: Curing, told: Told) -> pd.DataFrame:
    """Return the faults that the checker finds in the tables of the plan."""
    told("checks of the plan")
    bag_kg = work.bag_kg + work.water_kg
    return checked(made, work.jobs, work.allowed, work.teams, work.works, work.days, work.rules, bag_kg, curing)


def _not_planned(work: Work, jobs: Jobs, stops: pd.DataFrame, curing: Curing, told: Told) -> pd.DataFrame:
    """Return what is not planned, as the plan's table has it."""
    told("cores not planned")
    bag_kg = work.bag_kg + work.water_kg
    left = not_planned_of(
        jobs, work.jobs, stops, work.teams, work.works, work.days, curing, work.least_wait_min, bag_kg, work.travel,
        work.metres_per_min, work.rules.smallest,
    )  # fmt: skip
    return typed("not_planned", left)


def _notices(
    work: Work, stops: pd.DataFrame, curing: Curing, left: pd.DataFrame, temperatures: Temperatures | None
) -> list[str]:
    crowded = crowded_out(work.jobs, work.allowed, work.teams, work.works, work.days, left)
    known = temperatures is not None
    return plan_notices(work.jobs, stops, work.teams, work.works, work.days, curing, crowded, has_weather=known)


def _jobs(
    cores: pd.DataFrame, planning: Planning, defaults: PlanDefaults, curing: Curing, days: Days, as_of: dt.date
) -> tuple[Jobs, MinutesInForce]:
    """Return the jobs, in their order and with the minutes of each step, and the minutes in force."""
    weights = weights_in_force(planning.weights, defaults.weights)
    jobs = _in_order(jobs_of(cores, days, curing.pours, planning.no_work, weights, pd.Timestamp(as_of)))
    times = times_between(cores, defaults.learning, _metres_per_min(planning), planning.detour, waits=planning.waits)
    force = minutes_in_force(times, planning.minutes, defaults)
    return jobs._replace(frame=jobs.frame.join(minutes_of(jobs.frame, force))), force


def _metres_per_min(planning: Planning) -> float:
    return planning.speed_km_h * _METRES_PER_KM / _MINUTES_PER_HOUR


def _dropped(work: Work, routes: Routes) -> list[str]:
    return dropped_notices(pd.concat([work.promises.dropped, routes.dropped]))


def _teams(
    settings: Settings,
    frame: pd.DataFrame,
    crs: CRS,
    defaults: PlanDefaults,
    curing: Curing,
    wait_min: Floats,
    days: Days,
) -> tuple[list[Team], Bools]:
    """Return the crews in force, with the hours in which the weather lets them pour, and on which days each works."""
    yards = _in_crs(settings.plan.yards, crs)
    teams = teams_of(settings.crews, frame, settings.orders, yards, defaults.rest.minutes)
    # on a day without pours, the rest of the work has the shift
    hours = (
        np.where(curing.pours, curing.first_min - least_ready(frame), 0.0),
        np.where(curing.pours, curing.last_min + np.nan_to_num(wait_min), ALL_DAY_MIN),
    )
    works = np.array([working(team.crew, days, settings.programme.calendar) for team in teams]).reshape(-1, len(days))
    return [with_hours(team, *hours) for team in teams], works


def _work(
    cores: pd.DataFrame,
    segments: gpd.GeoDataFrame,
    jobs: Jobs,
    settings: Settings,
    grout: Grout,
    wait_min: Floats,
    days: Days,
    teams: list[Team],
    works: Bools,
    kept: pd.DataFrame | None,
) -> Work:
    """Return what the routes depend on; the jobs have their minutes."""
    planning, ordering, frame = settings.plan, settings.orders, jobs.frame
    walking_m_min = ordering.speed_km_h * _METRES_PER_KM / _MINUTES_PER_HOUR
    promises = no_promises(len(frame))
    if kept is not None:
        promises = promises_of(kept, cores, frame, jobs.allowed, teams, works, days)
    return Work(
        frame,
        jobs.allowed,
        lateness_of(frame, days),
        teams,
        works,
        days,
        wait_min,
        travel_of(segments, cores[list(_PLACED)].loc[frame.index], _starts(teams), planning.gap_m, planning.detour),
        _metres_per_min(planning),
        MixRules(ordering.working_time_min, walking_m_min, ordering.smallest_mix),
        grout.bag.value,
        grout.water_per_bag.value,
        promises,
    )


def _in_order(jobs: Jobs) -> Jobs:
    """Return the jobs in an order that does not depend on that of the registers: by position, then by id."""
    order = np.lexsort((jobs.frame["core_id"].fillna(""), jobs.frame["y_m"], jobs.frame["x_m"]))
    frame = jobs.frame.iloc[order].assign(place=np.arange(len(order)))
    return jobs._replace(frame=frame, allowed=jobs.allowed[order])


def _day_numbers(stops: pd.DataFrame, frame: pd.DataFrame, days: Days) -> Floats:
    """Return the number of the day that each job is planned on; NaN where it is not planned."""
    day = stops["day"].reindex(frame.index).to_numpy().astype("datetime64[D]")
    numbers: Floats = np.where(np.isnat(day), np.nan, (day - days[0]).astype(float))
    return numbers


def _starts(teams: list[Team]) -> Floats:
    return np.array([team.start for team in teams], dtype=float).reshape(-1, 2)


def _in_crs(yards: dict[str, tuple[float, float]], crs: CRS) -> dict[str, tuple[float, float]]:
    to_crs = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    return {name: to_crs.transform(*position) for name, position in yards.items()}


def _crews(teams: list[Team], works: Bools, crs: CRS) -> pd.DataFrame:
    x, y = _starts(teams).T
    lon, lat = Transformer.from_crs(crs, "EPSG:4326", always_xy=True).transform(x, y)
    return typed("crews", crew_table(teams, works, lon, lat))
