"""What is not planned: why each core is left out, and what would be needed to plan it."""

from math import ceil
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.contracts import PLAN_TABLES, names_of
from pipeline.plan.crews import Bools, Days, Team
from pipeline.plan.jobs import REINSTATE, Jobs
from pipeline.plan.minutes import MINUTE_COLUMNS
from pipeline.plan.travel import Floats, Ints, Travel
from pipeline.plan.weather import Curing
from pipeline.wording import counted

__all__ = ["Able", "able_crews", "alone_minutes", "crowded_out", "not_planned_of"]

NO_TIME: Final = "no crew time left within the plan"

_DAYS_OF_WEEK: Final = 7
_NOTHING: Final = 1e-9

Objects = npt.NDArray[np.object_]


class Able(NamedTuple):
    """By job: ``serves`` and ``fits``, N by K (crews), whether a crew serves its district, and also its surface."""

    serves: Bools
    fits: Bools


def able_crews(jobs: pd.DataFrame, teams: list[Team]) -> Able:
    """Return which crews may do which job; crews without stated surfaces work on every one."""
    shape = (len(teams), len(jobs))
    serves = np.array([jobs["district"].isin(team.districts) for team in teams], dtype=bool).reshape(shape).T
    fits = [
        jobs["surface"].isin(team.crew.surfaces) if team.crew.surfaces else pd.Series(data=True, index=jobs.index)
        for team in teams
    ]
    return Able(serves, serves & np.array(fits, dtype=bool).reshape(shape).T)


def alone_minutes(jobs: pd.DataFrame, wait_min: float) -> Floats:
    """Return how long each job takes by itself, without travel; ``wait_min``: from pressing to traffic, 0 if not kept.

    ``jobs``: ``task``, ``net_bags`` and MINUTE_COLUMNS.
    """
    steps = {name: jobs[name].to_numpy(float) for name in MINUTE_COLUMNS}
    bags = np.ceil(jobs["net_bags"].fillna(0.0).to_numpy(float) - _NOTHING)
    before = steps["set_up_min"] + steps["dry_fit_min"] + bags * steps["mix_min"]
    mixed = before + steps["pour_min"] + steps["press_min"] + np.maximum(steps["clean_min"], wait_min)
    other = np.where(jobs["task"].eq("survey"), steps["survey_min"], steps["make_safe_min"])
    result: Floats = np.where(jobs["task"].eq(REINSTATE), mixed, other)
    return result


def crowded_out(
    frame: pd.DataFrame, allowed: Bools, teams: list[Team], works: Bools, days: Days, left: pd.DataFrame
) -> pd.Index:
    """Return which booked jobs some crew could do in time, so that only the room for them can be lacking.

    Parameters
    ----------
    frame, allowed
        N jobs with ``booked_on`` and ``due_on``, and N by D: on which days each may be done.
    teams, works, days
        The K crews, and K by D: on which of the D days each works.
    left
        What is not planned, with ``row`` and ``reason``.
    """
    booked = frame[frame["booked_on"].notna()]
    crews, kind = _kinds(able_crews(booked, teams).fits)
    worked = (crews.astype(np.float32) @ works.astype(np.float32) > 0)[kind] & allowed[frame["booked_on"].notna()]
    first, last = (booked[name].to_numpy().astype("datetime64[D]")[:, None] for name in ("booked_on", "due_on"))
    in_time = (worked & (days >= first) & (days <= last)).any(axis=1)
    other = left.loc[left["reason"].ne(NO_TIME), "row"]
    return booked.index[in_time & ~booked["row"].isin(other).to_numpy()]


def not_planned_of(
    jobs: Jobs,
    frame: pd.DataFrame,
    stops: pd.DataFrame,
    teams: list[Team],
    works: Bools,
    days: Days,
    curing: Curing,
    wait_min: float,
    bag_kg: float,
    travel: Travel,
    metres_per_min: float,
    smallest: float = 1.0,
) -> pd.DataFrame:
    """Return the cores that are not planned, with the reason and what would be needed.

    Parameters
    ----------
    jobs, frame
        The N jobs, and their frame with the minutes of each step.
    stops
        What is planned, on the index of the cores.
    teams, works
        The K crews, and K by D: the days on which each works.
    days, curing
        The D days of the horizon, and how grout cures on each.
    wait_min
        From pressing to traffic; 0 where crews do not wait.
    bag_kg
        Weight of a bag with its water.
    smallest, travel, metres_per_min
        The smallest part of a bag that is mixed, 1 or 0.5; the distances between the places; how fast crews travel.
    """
    left = ~frame.index.isin(stops.index)
    late, allowed = frame[left], jobs.allowed[left]
    able = able_crews(late, teams)
    minutes = alone_minutes(late, wait_min)
    bags = np.ceil(late["net_bags"].fillna(0.0) / smallest - _NOTHING) * smallest
    load = (bags * bag_kg + late["gravel_kg"].fillna(0.0)).to_numpy(float)
    carries = _most(able.fits, [team.crew.carries_kg for team in teams])
    shift = _most(able.fits, [_shift_min(team) for team in teams])
    far = _from_start(late, able.fits, teams, travel) / metres_per_min
    crews, kind = _kinds(able.fits)
    has_day = (crews.astype(np.float32) @ works.astype(np.float32) > 0)[kind] & allowed
    last = pd.Timestamp(days[-1])
    too_late = late["booked_on"].gt(last).to_numpy()
    some_work = works.any(axis=0)
    never_pours = late["task"].eq(REINSTATE).to_numpy() & some_work.any() & ~(some_work & curing.pours).any()
    room = _room(late, minutes, able.fits, stops, teams, works, allowed)
    cases = _reasons(late, able, too_late, never_pours, has_day, (load, carries), (minutes, shift), far)
    reasons, remedies = _object(np.full(len(late), NO_TIME)), room
    # the first case that applies counts
    for applies, reason, remedy in reversed(cases):
        reasons, remedies = np.where(applies, reason, reasons), np.where(applies, remedy, remedies)
    late = late.assign(reason=reasons, remedy=remedies)
    columns = list(names_of(PLAN_TABLES["not_planned"]))
    out = jobs.left_out.rename(columns={"bags": "net_bags"})
    table: pd.DataFrame = pd.concat([late[columns], out[columns]]).sort_values("row").reset_index(drop=True)
    return table


def _reasons(
    late: pd.DataFrame,
    able: Able,
    too_late: Bools,
    never_pours: Bools,
    has_day: Bools,
    load: tuple[Floats, Floats],
    minutes: tuple[Floats, Floats],
    far: Floats,
) -> list[tuple[Any, str, str | Objects]]:
    """Return for each reason to which jobs it applies, and what would be needed.

    ``load``, ``minutes``: of the job, and the most that is possible. ``far``: minutes from the nearest start of a crew.
    """
    district, surface = (_object(late[name].astype("str").to_numpy()) for name in ("district", "surface"))
    booked = _object(late["booked_on"].dt.strftime("%Y-%m-%d").fillna("").to_numpy())
    return [
        (~able.serves.any(axis=1), "no crew serves its district", "a crew that serves " + district),
        (
            ~able.fits.any(axis=1),
            "no crew of its district works on its surface",
            "a crew there that works in " + surface,
        ),
        (too_late, "booked for a day after the last day of the plan", "a plan that extends to " + booked),
        (
            never_pours,
            "grout cannot be poured on any working day of the plan",
            "working days within the grout's temperature limits",
        ),
        (
            ~has_day.any(axis=1),
            "no working day of the plan on which work is permitted there",
            "a longer plan, or a day on which work is permitted there",
        ),
        (load[0] > load[1], "heavier than any truck can carry", "a truck that carries " + _numbers(load[0], "kg")),
        (
            minutes[0] > minutes[1],
            "takes longer than the shift",
            "a shift of more than " + _numbers(minutes[0], "minutes with travel"),
        ),
        (
            minutes[0] + 2 * far > minutes[1],
            "too far from where its crew starts",
            "a yard less than " + _numbers(far, "minutes of travel away: check plan.yards, longitude first"),
        ),
    ]


def _object(texts: np.ndarray) -> Objects:
    return np.array(texts, dtype=object)


def _numbers(values: Floats, unit: str) -> Objects:
    return np.array([f"{value:,.0f} {unit}" for value in np.ceil(values)], dtype=object)


def _shift_min(team: Team) -> float:
    start, end = team.crew.shift
    return end - start - (team.crew.break_min or 0.0)


def _most(fits: Bools, values: list[float]) -> Floats:
    """Return for each job the most of a value of the crews that may do it."""
    most: Floats = np.where(fits, np.array(values).reshape(1, -1), 0.0).max(axis=1, initial=0.0)
    return most


def _kinds(fits: Bools) -> tuple[Bools, Ints]:
    """Return the different rows of N by K, and which of them each of the N is."""
    # crews differ by district and surface alone: few jobs differ in who may do them
    kinds, kind = np.unique(np.packbits(fits, axis=1), axis=0, return_inverse=True)
    return np.unpackbits(kinds, axis=1, count=fits.shape[1]).astype(bool), kind.reshape(-1)


def _from_start(late: pd.DataFrame, fits: Bools, teams: list[Team], travel: Travel) -> Floats:
    """Return how far each job is from the nearest start of the crews that may do it; 0 where there is none."""
    start, place = np.array([team.place for team in teams]), late["place"].to_numpy(int)
    nearest = np.zeros(len(late))
    kinds, kind = _kinds(fits)
    for number, crews in enumerate(kinds):
        if crews.any():
            mine = np.flatnonzero(kind == number)
            nearest[mine] = travel.metres(start[crews], place[mine]).min(axis=0)
    return nearest


def _room(
    late: pd.DataFrame,
    minutes: Floats,
    fits: Bools,
    stops: pd.DataFrame,
    teams: list[Team],
    works: Bools,
    allowed: Bools,
) -> Objects:
    """Return for each job how many more crews its district would need, and for how long."""
    travel = stops.groupby("district")["travel_min"].mean()
    usual = 0.0 if stops.empty else float(stops["travel_min"].mean())
    texts = np.full(len(late), "", dtype=object)
    for district, at in late.reset_index(drop=True).groupby("district", sort=True).indices.items():
        mine = np.flatnonzero(fits[at].any(axis=0))
        if not len(mine):
            continue
        needed = float(minutes[at].sum()) + len(at) * float(travel.get(district, usual))
        shift = float(np.mean([_shift_min(teams[team]) for team in mine]))
        # a shift that its break fills has its own reason
        crew_days = ceil(needed / max(shift, 1.0))
        cores, spent = counted(len(at), "core"), counted(crew_days, "crew day")
        worked = works[mine].sum(axis=1).max()
        possible = int((works[mine] & allowed[at].any(axis=0)).sum(axis=1).max())
        if possible < worked:
            crews = ceil(crew_days / max(possible, 1))
            when = "the only working day" if possible == 1 else f"each of the {possible:,} working days"
            where = f"{_more(crews)} in {district} on {when} on which it is possible"
            texts[at] = f"{where} ({spent} for {cores}), or a longer plan"
            continue
        days = allowed.shape[1]
        rate = max(int(worked) * _DAYS_OF_WEEK / days, 1.0)
        weeks, most = ceil(crew_days / rate), max(days // _DAYS_OF_WEEK, 1)
        crews = ceil(weeks / most)
        weeks = ceil(crew_days / rate / crews)
        texts[at] = f"{_more(crews)} in {district} for {counted(weeks, 'week')} ({spent} for {cores})"
    return texts


def _more(crews: int) -> str:
    return "one more crew" if crews == 1 else f"{crews:,} more crews"
